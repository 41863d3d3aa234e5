#include "daemon/judge/vocabulary.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <vector>

#include "daemon/base/nearest.h"
#include "daemon/judge/procedure_sense.h"
#include "daemon/record/observation_words.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kSecond = 1'000'000;

// name, dimension, resolution, longest hole, s.d. share + constant, tau. Choices of ours except
// where the register names a sensor.
constexpr std::array kQuantities{
    QuantityInfo{"vehicle.speed", "the car on its own wheels, by its tag or the rope",
                 Dimension::kSpeed, 0.001, 3 * kSecond, 0, 200'000, 1'500'000},
    QuantityInfo{"truck.speed", "the truck, by its receiver", Dimension::kSpeed, 0.001, 3 * kSecond,
                 0, 200'000, 1'500'000},
    QuantityInfo{"vehicle.rolled", "the car's way while `rolling`", Dimension::kLength, 0.001,
                 3 * kSecond, 0, 0, kSecond, true},
    QuantityInfo{"truck.driven", "the truck's way", Dimension::kLength, 0.001, 10 * kSecond, 0, 0,
                 kSecond, true},
    QuantityInfo{"line.pull", "by a load cell", Dimension::kForce, 1.0, 5 * kSecond, 10'000, 20'000,
                 200'000},
    QuantityInfo{"line.out", "rope off the drum, by a counter", Dimension::kLength, 0.001,
                 5 * kSecond, 0, 50'000, 200'000},
    QuantityInfo{"line.leg_pull", "of one leg, from the pull and the legs' angle",
                 Dimension::kForce, 1.0, 5 * kSecond, 0, 0, 200'000},
    QuantityInfo{"line.rating", "the least rating of what is in the line", Dimension::kForce, 1.0,
                 0, 0, 0, kSecond},
    QuantityInfo{"line.layer", "what the drum layer in use may pull", Dimension::kForce, 1.0, 0, 0,
                 0, kSecond},
    QuantityInfo{"point.rating", "of the vehicle's point that is rigged", Dimension::kForce, 1.0, 0,
                 0, 0, kSecond},
    QuantityInfo{"line.free_roll", "the pull that free wheels need, from mass and tilt",
                 Dimension::kForce, 1.0, 0, 0, 0, kSecond},
    QuantityInfo{"clamp.volts", "across the clamps", Dimension::kVoltage, 0.001, 2 * kSecond,
                 10'000, 0, 500'000},
    QuantityInfo{"clamp.amps", "into the vehicle", Dimension::kCurrent, 0.001, 2 * kSecond, 10'000,
                 0, 500'000},
    QuantityInfo{"source.nominal", "the volts the source is for, as said", Dimension::kVoltage,
                 0.001, 0, 0, 0, kSecond},
    QuantityInfo{"clamp.pos.contact", "1 where the positive jaw bites", Dimension::kCount, 1.0,
                 2 * kSecond, 0, 0, 500'000},
    QuantityInfo{"clamp.neg.contact", "1 where the negative jaw bites", Dimension::kCount, 1.0,
                 2 * kSecond, 0, 0, 500'000},
    QuantityInfo{"battery.temp", "by a probe, or as said", Dimension::kTemperature, 0.01,
                 600 * kSecond, 0, 200'000, 10 * kSecond},
    QuantityInfo{"deck.tilt", "of the deck", Dimension::kAngle, 0.001, 0, 0, 2'000'000, kSecond},
    QuantityInfo{"rigging.legs_angle", "between the legs, as said", Dimension::kAngle, 0.001, 0, 0,
                 5'000'000, kSecond},
    QuantityInfo{"isolation.distance", "of the vehicle from all else, as said", Dimension::kLength,
                 0.001, 0, 0, 1'000'000, kSecond},
    QuantityInfo{"deck.accel_x", "on the deck, along", Dimension::kAcceleration, 0.001, kSecond, 0,
                 100'000, 50'000},
    QuantityInfo{"deck.accel_y", "on the deck, across", Dimension::kAcceleration, 0.001, kSecond, 0,
                 100'000, 50'000},
    QuantityInfo{"deck.accel_z", "on the deck, upright", Dimension::kAcceleration, 0.001, kSecond,
                 0, 100'000, 50'000},
    QuantityInfo{"vehicle.mass", "as weighed at the opening, else of the vehicle's file",
                 Dimension::kMass, 0.001, 0, 0, 0, kSecond},
    QuantityInfo{"tiedowns.strength", "credited sum of the tiedowns that count", Dimension::kMass,
                 0.001, 0, 0, 0, kSecond},
    QuantityInfo{"tiedowns.count", "tiedowns that count", Dimension::kCount, 1.0, 0, 0, 0, kSecond},
};

constexpr std::array kFacts{
    Named{"clamp.positive", "the positive clamp is on the vehicle's terminal or battery"},
    Named{"clamp.negative", "the negative clamp is on it"},
    Named{"lid.positive", "the positive lead at the lid plug is on"},
    Named{"lid.negative", "the negative lead at the lid plug is on"},
    Named{"source.positive", "the positive clamp is on the source"},
    Named{"source.negative", "the negative clamp is on the source"},
    Named{"boost", "both clamps are on the vehicle and the source is not off"},
    Named{"clamp.connected", "3 V or more across the clamps"},
    Named{"clamp.reversed", "-1 V or lower across the clamps"},
    Named{"clamp.shorted", "50 A or more at under 2 V"},
    Named{"clamp.surge", "20 A or more into the vehicle"},
    Named{"clamp.recovered", "13.2 V or more across the clamps"},
    Named{"source.class:12", "the source is one of 12 V, by its volts"},
    Named{"source.class:24", "one of 24 V"},
    Named{"source.class:48", "one of 48 V"},
    Named{"screen.awake", "the vehicle's screen is awake"},
    Named{"drive.ready", "the vehicle is confirmed ready to drive"},
    Named{"steering.live", "the steering answers"},
    Named{"smoke", "smoke is seen"},
    Named{"barrier", "a barrier isolates the vehicle"},
    Named{"scene.set", "lights, cones, signs are set"},
    Named{"mode.parked", "the vehicle's mode is PARKED (one mode at a time)"},
    Named{"mode.rolling", "ROLLING: free-rolling, for winching"},
    Named{"mode.drive", "DRIVE"},
    Named{"mode.reverse", "REVERSE"},
    Named{"mode.off", "OFF"},
    Named{"charging", "it charges"},
    Named{"connector.in", "the charging connector is in"},
    Named{"rigging", "something is rigged to any point"},
    Named{"tied", "any tiedown is on"},
    Named{"ramp", "a ramp is on"},
    Named{"line.taut", "the line is taut"},
    Named{"line.holding", "the line holds the load"},
    Named{"line.pulling", "the line pulls, by the load cell; without one as said"},
    Named{"driven_wheels.on_ground", "any driven wheel is on the ground"},
    Named{"wheels.on_ground", "any wheel is on the ground"},
    Named{"wheels.on_deck", "all wheels are on the deck"},
    Named{"wheels.on_skates", "none on the ground, some on skates or dollies"},
    Named{"loaded", "all wheels are on the deck or the lift"},
    Named{"held_by_line_alone", "rigged and loaded and not tied"},
    Named{"deck.moving", "the deck moves"},
    Named{"truck.moving", "the truck moves, over 0.5 km/h"},
    Named{"rolling", "mode.rolling or pulled along; deck and truck still; not on skates"},
    Named{"working", "line, rope, tilt or source is active"},
    Named{"handling", "one load, unload, winch-out or reposition"},
};

constexpr std::array kFactFamilies{
    Named{"cover.off:", "WHICH: panel, lead_plug, tow_eye, charge_side, wheel:LF or another"},
    Named{"rigging:", "POINT: the id of a point in the vehicle's file"},
    Named{"tied:", "WHEEL: LF, RF, LR, RR"},
    Named{"phase:", "ID: a phase of this file, or a built-in one"},
};

constexpr std::array kMomentary{
    Named{"opened", "the job is opened"},
    Named{"closed", "the job is closed"},
    Named{"abandoned", "the job is given up"},
    Named{"reopened", "the job is opened again"},
    Named{"arrived", "the truck is there"},
    Named{"found", "how the vehicle was found is said"},
    Named{"identified", "the vehicle is identified"},
    Named{"authority", "who orders it is recorded"},
    Named{"film", "a film of all four sides (it is photo:front, rear, left and right too)"},
    Named{"condition", "damage or a mark is recorded"},
    Named{"statement", "somebody's statement"},
    Named{"custody.taken", "the vehicle is taken over"},
    Named{"custody.given", "it is given to somebody"},
    Named{"custody.refused", "somebody refused it"},
    Named{"custody.left", "it is left"},
    Named{"custody.stored", "it is stored"},
    Named{"charging.started", ""},
    Named{"charging.stopped", ""},
    Named{"charging.confirmed", ""},
    Named{"connector.tether_drawn", "the connector's release tether is drawn"},
    Named{"connector.released", ""},
    Named{"connector.out", ""},
    Named{"connector.in", ""},
    Named{"door.opened", "a door is opened, by any means"},
    Named{"secured.checked", "the tiedowns are looked at"},
    Named{"heat", "a temperature is said"},
    Named{"note", "a note"},
    Named{"first_touch", "the first clamp, cover, rigging, door or connector"},
    Named{"anchor", "what the truck is anchored to is said"},
    Named{"crew", "somebody joins or leaves"},
};

constexpr std::array kMomentaryFamilies{
    Named{"caution.read:", "ID: a caution of this file"},
    Named{"step.done:", "ID: a step of this file"},
    Named{"warning.shown:", "RULE: a rule of this file"},
    Named{"warning.acknowledged:", "RULE: a rule of this file"},
    Named{"photo:", "VIEW, taken at any time"},
    Named{"photo.before:", "VIEW, taken as BEFORE"},
    Named{"photo.after:", "VIEW, taken as AFTER"},
    Named{"item:", "KEYS, VALUABLE, DOCUMENT or OTHER"},
    Named{"door.opened:", "ELECTRIC, MECHANICAL or TOOL"},
};

struct FileField {
  std::string_view name;
  Dimension dimension;
};
constexpr std::array kFields{
    FileField{"vehicle.mass", Dimension::kMass},
    FileField{"vehicle.length", Dimension::kLength},
    FileField{"vehicle.wheelbase", Dimension::kLength},
    FileField{"vehicle.clearance", Dimension::kLength},
    FileField{"vehicle.low_voltage", Dimension::kVoltage},
    FileField{"vehicle.boost_min", Dimension::kVoltage},
    FileField{"vehicle.boost_max", Dimension::kVoltage},
    FileField{"vehicle.wake_wait", Dimension::kTime},
    FileField{"vehicle.rolling_speed", Dimension::kSpeed},
    FileField{"vehicle.rolling_distance", Dimension::kLength},
    FileField{"vehicle.deck_min", Dimension::kLength},
    FileField{"truck.gvwr", Dimension::kMass},
    FileField{"truck.deck_length", Dimension::kLength},
    FileField{"truck.deck_travel", Dimension::kLength},
};

template <size_t N>
bool in_family(const std::array<Named, N>& families, std::string_view name) {
  return std::ranges::any_of(families, [&](const Named& family) {
    return name.starts_with(family.name) && name.size() > family.name.size();
  });
}

template <size_t N>
bool is_one_of(const std::array<Named, N>& all, std::string_view name) {
  return std::ranges::find(all, name, &Named::name) != all.end();
}

template <size_t N>
void add_names(const std::array<Named, N>& all, std::vector<std::string_view>& names) {
  for (const Named& one : all) names.push_back(one.name);
}

bool known_fact(std::string_view name) {
  return is_one_of(kFacts, name) || in_family(kFactFamilies, name);
}

constexpr std::string_view kAllNames = "`fairlead check-procedure --names` lists them";

std::string hint_or_list(std::string_view name, std::span<const std::string_view> names) {
  const std::string hint = suggestion(name, names);
  return hint.empty() ? std::string(kAllNames) : hint;
}

// What a name is, where it is one of another kind; else "".
std::string other_kind(std::string_view name, std::string_view wanted) {
  if (wanted != "fact" && known_fact(name)) {
    if (wanted == "event")
      return fmt::format("'{}' is a fact; name its event '{}.on' or '{}.off'", name, name, name);
    return fmt::format("'{}' is a fact, but a {} is wanted", name, wanted);
  }
  if (wanted != "quantity" && find_quantity(name) != nullptr)
    return fmt::format("'{}' is a quantity, but {} {} is wanted", name,
                       wanted == "event" ? "an" : "a", wanted);
  if (wanted == "event") return "";
  if (const auto edge = fact_event(name)) {
    const std::string_view fact = std::string_view(name).substr(0, edge->fact.size());
    return wanted == "fact" ? fmt::format("'{}' is an event; name the fact, '{}'", name, fact)
                            : fmt::format("'{}' is an event, but a {} is wanted", name, wanted);
  }
  if (is_one_of(kMomentary, name))
    return fmt::format("'{}' is an event, but a {} is wanted", name, wanted);
  return "";
}

std::string event_hint(std::string_view name) {
  std::vector<std::string> made;
  for (const Named& fact : kFacts) {
    made.push_back(std::string(fact.name) + ".on");
    made.push_back(std::string(fact.name) + ".off");
  }
  std::vector<std::string_view> all(made.begin(), made.end());
  add_names(kMomentary, all);
  add_names(kMomentaryFamilies, all);
  return hint_or_list(name, all);
}

std::vector<std::string_view> words_of(const google::protobuf::EnumDescriptor& list) {
  std::vector<std::string_view> words;
  for (int i = 0; i < list.value_count(); ++i) {
    if (list.value(i)->number() != 0) words.emplace_back(list.value(i)->name());
  }
  return words;
}

}  // namespace

const QuantityInfo* find_quantity(std::string_view name) {
  const auto* found = std::find_if(kQuantities.begin(), kQuantities.end(),
                                   [&](const QuantityInfo& info) { return info.name == name; });
  return found == kQuantities.end() ? nullptr : found;
}

std::span<const std::string_view> quantity_names() {
  static const auto kNames = [] {
    std::array<std::string_view, kQuantities.size()> names;
    for (size_t i = 0; i < names.size(); ++i) names[i] = kQuantities[i].name;
    return names;
  }();
  return kNames;
}

std::span<const QuantityInfo> quantities() { return kQuantities; }
std::span<const Named> facts() { return kFacts; }
std::span<const Named> fact_families() { return kFactFamilies; }
std::span<const Named> momentary_events() { return kMomentary; }
std::span<const Named> event_families() { return kMomentaryFamilies; }

Status check_fact(std::string_view name) {
  if (known_fact(name)) return {};
  if (const std::string kind = other_kind(name, "fact"); !kind.empty())
    return fail(Code::kBadInput, kind);
  std::vector<std::string_view> names;
  add_names(kFacts, names);
  return fail(Code::kBadInput,
              fmt::format("unknown fact '{}'; {}", name, hint_or_list(name, names)));
}

bool is_derived(std::string_view fact) {
  constexpr std::array<std::string_view, 7> kDerived{
      "boost", "held_by_line_alone", "rolling", "working", "handling", "line.pulling", "loaded"};
  return fact.starts_with("phase:") ||
         std::find(kDerived.begin(), kDerived.end(), fact) != kDerived.end();
}

std::optional<FactEvent> fact_event(std::string_view name) {
  for (const std::string_view edge : {std::string_view(".on"), std::string_view(".off")}) {
    if (!name.ends_with(edge)) continue;
    const std::string_view fact = name.substr(0, name.size() - edge.size());
    if (known_fact(fact)) return FactEvent{std::string(fact), edge == ".on"};
  }
  return std::nullopt;
}

Status check_event(std::string_view name, std::span<const std::string> phases) {
  if (const auto edge = fact_event(name)) {
    if (!edge->fact.starts_with("phase:")) return {};
    const std::string id = edge->fact.substr(6);
    if (id == "job" || id == "handling" ||
        std::find(phases.begin(), phases.end(), id) != phases.end())
      return {};
    return fail(Code::kBadInput,
                fmt::format("event '{}' names the unknown phase '{}'; declare it", name, id));
  }
  if (is_one_of(kMomentary, name)) return {};
  if (in_family(kMomentaryFamilies, name)) return {};
  if (name.ends_with(':'))
    return fail(Code::kBadInput, fmt::format("'{}' wants a word behind its colon", name));
  if (const std::string kind = other_kind(name, "event"); !kind.empty())
    return fail(Code::kBadInput, kind);
  return fail(Code::kBadInput, fmt::format("unknown event '{}'; {}", name, event_hint(name)));
}

Status check_member(std::string_view name) {
  constexpr std::array<std::string_view, 3> kOfPhotos{"photo:", "photo.before:", "photo.after:"};
  constexpr std::array<std::string_view, 4> kWheels{"LF", "RF", "LR", "RR"};
  const auto one_of = [&](std::string_view family, std::span<const std::string_view> words) {
    const std::string_view word = name.substr(family.size());
    if (std::find(words.begin(), words.end(), word) != words.end()) return Status{};
    return Status{fail(Code::kBadInput, fmt::format("event '{}': '{}' is unknown behind '{}'; {}",
                                                    name, word, family, suggestion(word, words)))};
  };
  if (name.starts_with("item:")) return one_of("item:", words_of(*v1::Item::Kind_descriptor()));
  if (name.starts_with("door.opened:"))
    return one_of("door.opened:", words_of(*v1::Door::Means_descriptor()));
  for (const std::string_view family : kOfPhotos) {
    if (!name.starts_with(family)) continue;
    const std::string_view view = name.substr(family.size());
    if (view.starts_with("wheel:")) return one_of(std::string(family) + "wheel:", kWheels);
    if (auto known = record::check_view(view); !known)
      return fail(Code::kBadInput, fmt::format("event '{}': {}", name, known.error().message));
  }
  return {};
}

Status check_quantity(std::string_view name) {
  if (find_quantity(name) != nullptr) return {};
  if (const std::string kind = other_kind(name, "quantity"); !kind.empty())
    return fail(Code::kBadInput, kind);
  return fail(Code::kBadInput,
              fmt::format("unknown quantity '{}'; {}", name, hint_or_list(name, quantity_names())));
}

std::optional<Dimension> file_field_dimension(std::string_view name) {
  for (const FileField& field : kFields) {
    if (field.name == name) return field.dimension;
  }
  return std::nullopt;
}

std::span<const std::string_view> file_field_names() {
  static const auto kNames = [] {
    std::array<std::string_view, kFields.size()> names;
    for (size_t i = 0; i < names.size(); ++i) names[i] = kFields[i].name;
    return names;
  }();
  return kNames;
}

}  // namespace fairlead::judge
