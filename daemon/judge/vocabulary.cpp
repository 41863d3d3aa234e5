#include "daemon/judge/vocabulary.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <vector>

#include "daemon/base/nearest.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kSecond = 1'000'000;

// name, dimension, resolution, longest hole, s.d. share + constant, tau. Choices of ours except
// where the register names a sensor.
constexpr std::array kQuantities{
    QuantityInfo{"vehicle.speed", Dimension::kSpeed, 0.001, 3 * kSecond, 0, 200'000, 1'500'000},
    QuantityInfo{"truck.speed", Dimension::kSpeed, 0.001, 3 * kSecond, 0, 200'000, 1'500'000},
    QuantityInfo{"vehicle.rolled", Dimension::kLength, 0.001, 3 * kSecond, 0, 0, kSecond, true},
    QuantityInfo{"truck.driven", Dimension::kLength, 0.001, 10 * kSecond, 0, 0, kSecond, true},
    QuantityInfo{"line.pull", Dimension::kForce, 1.0, 5 * kSecond, 10'000, 20'000, 200'000},
    QuantityInfo{"line.out", Dimension::kLength, 0.001, 5 * kSecond, 0, 50'000, 200'000},
    QuantityInfo{"line.leg_pull", Dimension::kForce, 1.0, 5 * kSecond, 0, 0, 200'000},
    QuantityInfo{"line.rating", Dimension::kForce, 1.0, 0, 0, 0, kSecond},
    QuantityInfo{"line.layer", Dimension::kForce, 1.0, 0, 0, 0, kSecond},
    QuantityInfo{"point.rating", Dimension::kForce, 1.0, 0, 0, 0, kSecond},
    QuantityInfo{"line.free_roll", Dimension::kForce, 1.0, 0, 0, 0, kSecond},
    QuantityInfo{"clamp.volts", Dimension::kVoltage, 0.001, 2 * kSecond, 10'000, 0, 500'000},
    QuantityInfo{"clamp.amps", Dimension::kCurrent, 0.001, 2 * kSecond, 10'000, 0, 500'000},
    QuantityInfo{"source.nominal", Dimension::kVoltage, 0.001, 0, 0, 0, kSecond},
    QuantityInfo{"clamp.pos.contact", Dimension::kCount, 1.0, 2 * kSecond, 0, 0, 500'000},
    QuantityInfo{"clamp.neg.contact", Dimension::kCount, 1.0, 2 * kSecond, 0, 0, 500'000},
    QuantityInfo{"battery.temp", Dimension::kTemperature, 0.01, 600 * kSecond, 0, 200'000,
                 10 * kSecond},
    QuantityInfo{"deck.tilt", Dimension::kAngle, 0.001, 0, 0, 2'000'000, kSecond},
    QuantityInfo{"rigging.legs_angle", Dimension::kAngle, 0.001, 0, 0, 5'000'000, kSecond},
    QuantityInfo{"isolation.distance", Dimension::kLength, 0.001, 0, 0, 1'000'000, kSecond},
    QuantityInfo{"deck.accel_x", Dimension::kAcceleration, 0.001, kSecond, 0, 100'000, 50'000},
    QuantityInfo{"deck.accel_y", Dimension::kAcceleration, 0.001, kSecond, 0, 100'000, 50'000},
    QuantityInfo{"deck.accel_z", Dimension::kAcceleration, 0.001, kSecond, 0, 100'000, 50'000},
    QuantityInfo{"vehicle.mass", Dimension::kMass, 0.001, 0, 0, 0, kSecond},
    QuantityInfo{"tiedowns.strength", Dimension::kMass, 0.001, 0, 0, 0, kSecond},
    QuantityInfo{"tiedowns.count", Dimension::kCount, 1.0, 0, 0, 0, kSecond},
};

constexpr std::array<std::string_view, 45> kFacts{"clamp.positive",
                                                  "clamp.negative",
                                                  "lid.positive",
                                                  "lid.negative",
                                                  "source.positive",
                                                  "source.negative",
                                                  "boost",
                                                  "clamp.connected",
                                                  "clamp.reversed",
                                                  "clamp.shorted",
                                                  "clamp.surge",
                                                  "clamp.recovered",
                                                  "source.class:12",
                                                  "source.class:24",
                                                  "source.class:48",
                                                  "screen.awake",
                                                  "drive.ready",
                                                  "steering.live",
                                                  "smoke",
                                                  "barrier",
                                                  "scene.set",
                                                  "mode.parked",
                                                  "mode.rolling",
                                                  "mode.drive",
                                                  "mode.reverse",
                                                  "mode.off",
                                                  "charging",
                                                  "connector.in",
                                                  "rigging",
                                                  "tied",
                                                  "ramp",
                                                  "line.taut",
                                                  "line.holding",
                                                  "line.pulling",
                                                  "driven_wheels.on_ground",
                                                  "wheels.on_ground",
                                                  "wheels.on_deck",
                                                  "wheels.on_skates",
                                                  "loaded",
                                                  "held_by_line_alone",
                                                  "deck.moving",
                                                  "truck.moving",
                                                  "rolling",
                                                  "working",
                                                  "handling"};
constexpr std::array<std::string_view, 4> kFactFamilies{
    "cover.off:", "rigging:", "tied:", "phase:"};

constexpr std::array<std::string_view, 30> kMomentary{"opened",
                                                      "closed",
                                                      "abandoned",
                                                      "reopened",
                                                      "arrived",
                                                      "found",
                                                      "identified",
                                                      "authority",
                                                      "film",
                                                      "condition",
                                                      "statement",
                                                      "custody.taken",
                                                      "custody.given",
                                                      "custody.refused",
                                                      "custody.left",
                                                      "custody.stored",
                                                      "charging.started",
                                                      "charging.stopped",
                                                      "charging.confirmed",
                                                      "connector.tether_drawn",
                                                      "connector.released",
                                                      "connector.out",
                                                      "connector.in",
                                                      "door.opened",
                                                      "secured.checked",
                                                      "heat",
                                                      "note",
                                                      "first_touch",
                                                      "anchor",
                                                      "crew"};
constexpr std::array<std::string_view, 9> kMomentaryFamilies{
    "caution.read:", "step.done:",   "warning.shown:", "warning.acknowledged:", "photo:",
    "photo.before:", "photo.after:", "item:",          "door.opened:"};

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
bool in_family(const std::array<std::string_view, N>& families, std::string_view name) {
  return std::any_of(families.begin(), families.end(), [&](std::string_view family) {
    return name.starts_with(family) && name.size() > family.size();
  });
}

bool known_fact(std::string_view name) {
  return std::find(kFacts.begin(), kFacts.end(), name) != kFacts.end() ||
         in_family(kFactFamilies, name);
}

std::string event_hint(std::string_view name) {
  std::vector<std::string> made;
  for (const std::string_view fact : kFacts) {
    made.push_back(std::string(fact) + ".on");
    made.push_back(std::string(fact) + ".off");
  }
  std::vector<std::string_view> all(made.begin(), made.end());
  all.insert(all.end(), kMomentary.begin(), kMomentary.end());
  all.insert(all.end(), kMomentaryFamilies.begin(), kMomentaryFamilies.end());
  return nearest(name, all);
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

Status check_fact(std::string_view name) {
  if (known_fact(name)) return {};
  return fail(Code::kBadInput,
              fmt::format("unknown fact '{}'; the nearest is '{}'", name, nearest(name, kFacts)));
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
  if (std::find(kMomentary.begin(), kMomentary.end(), name) != kMomentary.end()) return {};
  if (in_family(kMomentaryFamilies, name)) return {};
  return fail(Code::kBadInput,
              fmt::format("unknown event '{}'; the nearest is '{}'", name, event_hint(name)));
}

Status check_quantity(std::string_view name) {
  if (find_quantity(name) != nullptr) return {};
  return fail(Code::kBadInput, fmt::format("unknown quantity '{}'; the nearest is '{}'", name,
                                           nearest(name, quantity_names())));
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
