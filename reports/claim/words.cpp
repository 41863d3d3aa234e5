#include "reports/claim/words.h"

#include "reports/claim/facts.h"
#include "reports/text.h"

namespace fairlead::reports {
namespace {

using Line = v1::Observation;
using Kind = Line::KindCase;

// Enum words of the record are upper case with underscores; a reader gets plain ones.
std::string plain(std::string word) {
  const size_t dot = word.find("UNSET");
  if (dot != std::string::npos) return "not stated";
  for (char& c : word) c = c == '_' ? ' ' : (c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c);
  return word;
}

std::string joined(const google::protobuf::RepeatedPtrField<std::string>& words) {
  std::vector<std::string> all;
  for (const auto& word : words) all.push_back(shown(word));
  return all.empty() ? "none" : listed(all);
}

std::string yes(bool value) { return value ? "yes" : "no"; }

std::string found_words(const v1::Found& f) {
  std::string out = "Found: rolls " + plain(v1::Found::Rolls_Name(f.rolls())) + ", low voltage " +
                    plain(v1::Found::Power_Name(f.power())) + ", keys " + yes(f.keys()) +
                    ", fluids " + yes(f.fluids()) + ", airbags out " + yes(f.airbags()) +
                    ", moved by others before " + yes(f.moved_by_others_before()) + ", at " +
                    plain(v1::Found::Place_Name(f.place())) + ", surface " +
                    plain(v1::Found::Surface_Name(f.surface()));
  if (f.locked_wheels_size() > 0) out += ", wheels locked: " + joined(f.locked_wheels());
  if (f.flat_tyres_size() > 0) out += ", flat tyres: " + joined(f.flat_tyres());
  return out;
}

std::string job_words(const JobRecord& record, const Line& line) {
  switch (line.kind_case()) {
    case Kind::kOpened:
      return "Job opened for vehicle " + shown(line.opened().vehicle()) + " with truck " +
             shown(line.opened().truck()) + " by " + card_name(record, line.opened().operator_());
    case Kind::kClosed:
      return "Job closed: " + plain(v1::Closed::Outcome_Name(line.closed().outcome()));
    case Kind::kAbandoned:
      return "Work abandoned: " + shown(line.abandoned().words());
    case Kind::kReopened:
      return "Job reopened";
    case Kind::kCrew:
      return card_name(record, line.crew().operator_()) +
             (line.crew().joins() ? " joins" : " leaves");
    case Kind::kFound:
      return found_words(line.found());
    case Kind::kIdentified:
      return "Car identified by " + plain(v1::Identified::How_Name(line.identified().how())) +
             ": " + card_name(record, line.identified().card());
    case Kind::kAuthority:
      return "Authority: " + plain(v1::Authority::Kind_Name(line.authority().kind())) + ", " +
             card_name(record, line.authority().card()) + ", reference " +
             shown(line.authority().reference());
    case Kind::kStatement:
      return "Statement of " + card_name(record, line.statement().card()) + ": \"" +
             shown(line.statement().text()) + "\"";
    case Kind::kArrived:
      return "Truck arrived";
    default:
      return {};
  }
}

std::string said_words(const Line& line) {
  switch (line.kind_case()) {
    case Kind::kScene:
      return line.scene().set() ? "Scene secured" : "Scene no longer secured";
    case Kind::kCaution:
      return "Caution " + shown(line.caution().id()) + (line.caution().read() ? " read" : " shown");
    case Kind::kStep:
      return "Step " + shown(line.step().id()) + (line.step().done() ? " done" : " not done");
    case Kind::kUndo:
      return "Line " + std::to_string(line.undo().seq()) + " of " + shown(line.undo().source()) +
             " taken back";
    case Kind::kReason:
      return "Reason given for " + shown(line.reason().rule()) + ": \"" +
             shown(line.reason().words()) + "\"";
    case Kind::kWarning:
      return "Warning on " + shown(line.warning().rule()) +
             (line.warning().acknowledged() ? ", acknowledged" : "");
    case Kind::kNote:
      return "Note: \"" + shown(line.note().text()) + "\"";
    case Kind::kGap: {
      std::string out = "Gap in " + shown(line.gap().channel()) + ": " + shown(line.gap().cause());
      if (line.gap().has_lost())
        out += ", " + counted(line.gap().lost(), "line", "lines") + " lost";
      return out;
    }
    case Kind::kClockOffset:
      return "Clock " + shown(line.clock_offset().clock()) + " compared: ahead by " +
             fixed(line.clock_offset().offset_ms(), 0) + " ms";
    case Kind::kSensor:
      return "Sensor " + shown(line.sensor().channel()) + ": " + shown(line.sensor().state());
    default:
      return {};
  }
}

std::string evidence_words(const JobRecord& record, const Line& line) {
  switch (line.kind_case()) {
    case Kind::kPhoto:
      return "Photo " + view_words(line.photo().view()) + ", " +
             plain(v1::When::Word_Name(line.photo().when()));
    case Kind::kFilm:
      return "Film round the car, " + plain(v1::When::Word_Name(line.film().when()));
    case Kind::kCondition: {
      const auto& c = line.condition();
      return "Mark listed " + plain(v1::When::Word_Name(c.when())) + ": " + shown(c.kind()) +
             " at " + shown(c.place()) + ", " + fixed(c.size_mm(), 0) + " mm, \"" +
             shown(c.words()) + "\"";
    }
    case Kind::kItem: {
      const auto& item = line.item();
      std::string out = "Item " + plain(v1::Item::Kind_Name(item.kind())) + " " +
                        plain(v1::Item::State_Name(item.state()));
      if (item.has_bag()) out += ", bag " + shown(item.bag());
      return out;
    }
    case Kind::kCustody: {
      const auto& custody = line.custody();
      std::string out = "Custody " + plain(v1::Custody::Event_Name(custody.event()));
      if (custody.has_to()) out += " to " + card_name(record, custody.to());
      if (custody.has_place()) out += " at " + shown(custody.place());
      if (custody.has_sha256()) out += ", signature on record";
      return out;
    }
    case Kind::kAnchor:
      return "Anchor: " + shown(line.anchor().words());
    default:
      return {};
  }
}

std::string vehicle_words(const Line& line) {
  switch (line.kind_case()) {
    case Kind::kVehicleMode:
      return "Car's mode: " + (line.vehicle_mode().mode() == v1::VehicleMode::ROLLING
                                   ? std::string("free-rolling")
                                   : plain(v1::VehicleMode::Mode_Name(line.vehicle_mode().mode())));
    case Kind::kScreen:
      return line.screen().awake() ? "Screen awake" : "Screen dark";
    case Kind::kDriveReady:
      return line.drive_ready().confirmed() ? "Ready to drive confirmed" : "Not ready to drive";
    case Kind::kSteering:
      return line.steering().live() ? "Steering live" : "Steering not live";
    case Kind::kCharging:
      return "Charging " + plain(v1::Charging::State_Name(line.charging().state()));
    case Kind::kConnector:
      return "Charge connector " + plain(v1::Connector::Event_Name(line.connector().event()));
    case Kind::kDoor:
      return "Door " + shown(line.door().which()) + " opened by " +
             plain(v1::Door::Means_Name(line.door().means())) + " means";
    case Kind::kCover:
      return "Cover " + shown(line.cover().which()) + (line.cover().off() ? " off" : " back on");
    case Kind::kHeat:
      return "Heat " + fixed(line.heat().celsius(), 1) + " degC at " + shown(line.heat().where());
    case Kind::kSmoke:
      return line.smoke().seen() ? "Smoke seen" : "No smoke";
    case Kind::kIsolation:
      return "Car kept apart by " + fixed(line.isolation().metres(), 1) + " m" +
             (line.isolation().barrier() ? ", behind a barrier" : "");
    default:
      return {};
  }
}

std::string gear_words(const Line& line) {
  switch (line.kind_case()) {
    case Kind::kClamp: {
      const auto& c = line.clamp();
      std::string out = std::string(c.lead() == v1::Clamp::POSITIVE ? "Positive" : "Negative") +
                        " clamp " + (c.on() ? "on" : "off") + " at " +
                        (c.at() == v1::Clamp::SOURCE ? "the source" : "the car");
      if (c.has_point()) out += ", " + plain(v1::Clamp::Point_Name(c.point()));
      return out;
    }
    case Kind::kSourcePower:
      return std::string("Jump source ") + (line.source_power().on() ? "on" : "off") + ", stated " +
             fixed(line.source_power().nominal_volts(), 0) + " V";
    case Kind::kRigging: {
      const auto& r = line.rigging();
      std::string out = std::string("Hook-up ") + (r.on() ? "on " : "off ") + shown(r.point());
      if (r.on()) out += " with " + joined(r.gear());
      if (r.has_legs_angle_deg() && r.legs_angle_deg() > 0) {
        out += ", angle between the legs " + fixed(r.legs_angle_deg(), 0) + " deg";
      }
      return out;
    }
    case Kind::kLine:
      return "Line " + plain(v1::Line::State_Name(line.line().state()));
    case Kind::kTiedown: {
      const auto& t = line.tiedown();
      std::string out = "Strap " + shown(t.gear()) + (t.on() ? " on" : " off");
      if (t.has_wheel()) out += " wheel " + shown(t.wheel());
      if (t.has_point()) out += " point " + shown(t.point());
      out += ", path " + plain(v1::Tiedown::Path_Name(t.path()));
      if (t.has_over()) out += ", over " + plain(v1::Tiedown::Over_Name(t.over()));
      return out;
    }
    case Kind::kSecured:
      return line.secured().checked() ? "Load looked at and found tight" : "Load not looked at";
    case Kind::kWheels:
      return "Wheels " + plain(shown(line.wheels().which())) + " on " +
             plain(v1::Wheels::On_Name(line.wheels().on()));
    case Kind::kRamp:
      return line.ramp().on() ? "Ramps laid" : "Ramps away";
    case Kind::kDeck: {
      std::string out = "Deck";
      if (line.deck().has_moving()) out += line.deck().moving() ? " moves" : " still";
      if (line.deck().has_tilt_deg()) out += ", tilt " + fixed(line.deck().tilt_deg(), 0) + " deg";
      return out;
    }
    case Kind::kTruckMotion:
      return line.truck_motion().moving() ? "Truck moves off" : "Truck stands";
    default:
      return {};
  }
}

}  // namespace

std::string line_words(const JobRecord& record, const Line& line) {
  std::string words = job_words(record, line);
  if (words.empty()) words = said_words(line);
  if (words.empty()) words = evidence_words(record, line);
  if (words.empty()) words = vehicle_words(line);
  if (words.empty()) words = gear_words(line);
  return words;
}

std::string clock_step_words(int64_t step_us) {
  if (step_us < 0) {
    return "set back by " + span_words(-step_us) +
           "; times after it are uncertain by as much until the clock has caught up";
  }
  return "set forward by " + span_words(step_us) +
         "; a span across it can read too long by as much";
}

std::string view_words(const std::string& view) {
  return shown(view.starts_with("spot:") ? view.substr(5) : view);
}

std::string source_words(const std::string& source) {
  if (source == "operator" || source == "desk") return source;
  if (source == "camera") return "camera";
  return shown(source) + " (instrument)";
}

}  // namespace fairlead::reports
