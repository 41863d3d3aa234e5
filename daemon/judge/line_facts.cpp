#include "daemon/judge/line_facts.h"

#include <algorithm>
#include <array>

#include "daemon/judge/instrument_boost.h"

namespace fairlead::judge {
namespace {

using v1::Observation;

Tri tri(bool value) { return value ? Tri::kTrue : Tri::kFalse; }

void mode_facts(v1::VehicleMode::Mode mode, const SetFact& set) {
  set("mode.parked", tri(mode == v1::VehicleMode::PARKED));
  set("mode.rolling", tri(mode == v1::VehicleMode::ROLLING));
  set("mode.drive", tri(mode == v1::VehicleMode::DRIVE));
  set("mode.reverse", tri(mode == v1::VehicleMode::REVERSE));
  set("mode.off", tri(mode == v1::VehicleMode::OFF));
}

void clamp_facts(const v1::Clamp& clamp, const SetFact& set) {
  const std::string lead = clamp.lead() == v1::Clamp::POSITIVE ? "positive" : "negative";
  if (clamp.at() == v1::Clamp::SOURCE) return set("source." + lead, tri(clamp.on()));
  if (clamp.point() == v1::Clamp::LID_LEAD) return set("lid." + lead, tri(clamp.on()));
  set("clamp." + lead, tri(clamp.on()));
}

void photo_events(const std::string& view, v1::When::Word when,
                  const std::function<void(const std::string&)>& emit) {
  emit("photo:" + view);
  if (when == v1::When::BEFORE) emit("photo.before:" + view);
  if (when == v1::When::AFTER) emit("photo.after:" + view);
}

std::string lower(std::string word) {
  std::transform(word.begin(), word.end(), word.begin(), [](unsigned char c) {
    return static_cast<char>(c >= 'A' && c <= 'Z' ? c + 32 : c);
  });
  return word;
}

void hand_over_events(const Observation& line,
                      const std::function<void(const std::string&)>& emit) {
  switch (line.kind_case()) {
    case Observation::kItem:
      return emit("item:" + v1::Item::Kind_Name(line.item().kind()));
    case Observation::kCustody:
      return emit("custody." + lower(v1::Custody::Event_Name(line.custody().event())));
    case Observation::kCharging:
      return emit("charging." + lower(v1::Charging::State_Name(line.charging().state())));
    case Observation::kConnector:
      return emit("connector." + lower(v1::Connector::Event_Name(line.connector().event())));
    case Observation::kDoor:
      emit("door.opened");
      return emit("door.opened:" + v1::Door::Means_Name(line.door().means()));
    case Observation::kWarning:
      return emit((line.warning().acknowledged() ? "warning.acknowledged:" : "warning.shown:") +
                  line.warning().rule());
    default:
      return;
  }
}

}  // namespace

void facts_of_line(const Observation& line, const SetFact& set) {
  switch (line.kind_case()) {
    case Observation::kVehicleMode:
      return mode_facts(line.vehicle_mode().mode(), set);
    case Observation::kScreen:
      return set("screen.awake", tri(line.screen().awake()));
    case Observation::kDriveReady:
      return set("drive.ready", tri(line.drive_ready().confirmed()));
    case Observation::kSteering:
      return set("steering.live", tri(line.steering().live()));
    case Observation::kSmoke:
      return set("smoke", tri(line.smoke().seen()));
    case Observation::kIsolation:
      return set("barrier", tri(line.isolation().barrier()));
    case Observation::kScene:
      return set("scene.set", tri(line.scene().set()));
    case Observation::kCharging:
      return set("charging", tri(line.charging().state() != v1::Charging::STOPPED));
    case Observation::kConnector:
      if (line.connector().event() == v1::Connector::IN) set("connector.in", Tri::kTrue);
      if (line.connector().event() == v1::Connector::OUT) set("connector.in", Tri::kFalse);
      return;
    case Observation::kCover:
      return set("cover.off:" + line.cover().which(), tri(line.cover().off()));
    case Observation::kClamp:
      return clamp_facts(line.clamp(), set);
    case Observation::kSourcePower:
      return set("source.off", tri(!line.source_power().on()));
    case Observation::kRamp:
      return set("ramp", tri(line.ramp().on()));
    case Observation::kLine: {
      const auto state = line.line().state();
      set("line.taut", tri(state == v1::Line::TAUT || state == v1::Line::HOLDING));
      return set("line.holding", tri(state == v1::Line::HOLDING));
    }
    case Observation::kDeck:
      if (line.deck().has_moving()) set("deck.moving", tri(line.deck().moving()));
      return;
    case Observation::kTruckMotion:
      return set("truck.moving", tri(line.truck_motion().moving()));
    default:
      return;
  }
}

void wheel_facts(const v1::Wheels& line, v1::Vehicle::Driven driven, WheelStates& states,
                 const SetFact& set) {
  constexpr std::array<std::string_view, 4> kWheels{"LF", "RF", "LR", "RR"};
  for (size_t i = 0; i < kWheels.size(); ++i) {
    if (line.which() == "ALL" || line.which() == kWheels[i]) states[i] = line.on();
  }
  const auto count = [&](v1::Wheels::On on) {
    return std::count(states.begin(), states.end(), on);
  };
  const bool ground = count(v1::Wheels::GROUND) > 0;
  const bool front = states[0] == v1::Wheels::GROUND || states[1] == v1::Wheels::GROUND;
  const bool rear = states[2] == v1::Wheels::GROUND || states[3] == v1::Wheels::GROUND;
  const bool driven_down = driven == v1::Vehicle::FRONT  ? front
                           : driven == v1::Vehicle::REAR ? rear
                                                         : ground;
  set("wheels.on_ground", tri(ground));
  set("driven_wheels.on_ground", tri(driven_down));
  set("wheels.on_deck", tri(count(v1::Wheels::DECK) == 4));
  set("wheels.on_skates", tri(!ground && count(v1::Wheels::SKATE) + count(v1::Wheels::DOLLY) > 0));
  set("loaded", tri(count(v1::Wheels::DECK) + count(v1::Wheels::LIFT) == 4));
}

void events_of_line(const Observation& line, const std::function<void(const std::string&)>& emit) {
  switch (line.kind_case()) {
    case Observation::kOpened:
      return emit("opened");
    case Observation::kClosed:
      emit("closed");
      if (line.closed().outcome() == v1::Closed::ABANDONED) emit("abandoned");
      return;
    case Observation::kAbandoned:
      return emit("abandoned");
    case Observation::kReopened:
      return emit("reopened");
    case Observation::kArrived:
      return emit("arrived");
    case Observation::kFound:
      return emit("found");
    case Observation::kIdentified:
      return emit("identified");
    case Observation::kAuthority:
      return emit("authority");
    case Observation::kStatement:
      return emit("statement");
    case Observation::kCondition:
      return emit("condition");
    case Observation::kAnchor:
      return emit("anchor");
    case Observation::kCrew:
      return emit("crew");
    case Observation::kHeat:
      return emit("heat");
    case Observation::kNote:
      return emit("note");
    case Observation::kCaution:
      if (line.caution().read()) emit("caution.read:" + line.caution().id());
      return;
    case Observation::kStep:
      if (line.step().done()) emit("step.done:" + line.step().id());
      return;
    case Observation::kSecured:
      if (line.secured().checked()) emit("secured.checked");
      return;
    case Observation::kPhoto:
      return photo_events(line.photo().view(), line.photo().when(), emit);
    case Observation::kFilm:
      emit("film");
      for (const char* view : {"front", "rear", "left", "right"})
        photo_events(view, line.film().when(), emit);
      return;
    default:
      return hand_over_events(line, emit);
  }
}

bool is_person(std::string_view source) { return source == "operator" || source == "desk"; }

Basis basis_of_line(const Observation& line) {
  if (line.has_photo() || line.has_film()) return Basis::kPictured;
  return is_person(line.source()) ? Basis::kSaid : Basis::kMeasured;
}

Tri initial_of(const std::string& fact) {
  constexpr std::array<std::string_view, 13> kUnknown{
      "screen.awake", "drive.ready",  "steering.live", "mode.parked", "mode.rolling",
      "mode.drive",   "mode.reverse", "mode.off",      "charging",    "connector.in",
      "line.pulling", "deck.moving",  "truck.moving"};
  if (is_boost_reading(fact)) return Tri::kUnknown;
  if (fact == "wheels.on_ground" || fact == "driven_wheels.on_ground") return Tri::kTrue;
  return std::find(kUnknown.begin(), kUnknown.end(), fact) != kUnknown.end() ? Tri::kUnknown
                                                                             : Tri::kFalse;
}

}  // namespace fairlead::judge
