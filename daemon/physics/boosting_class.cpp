#include "daemon/physics/boosting_class.h"

#include <algorithm>
#include <array>

namespace fairlead::physics {
namespace {

using C = VoltageClass;
constexpr std::array kCodes{SupplyCode{'A', C::k12, 6, 16},  SupplyCode{'B', C::k12, 8, 16},
                            SupplyCode{'C', C::k12, 9, 16},  SupplyCode{'D', C::k12, 10.5, 16},
                            SupplyCode{'E', C::k24, 10, 32}, SupplyCode{'F', C::k24, 16, 32},
                            SupplyCode{'G', C::k24, 22, 32}, SupplyCode{'H', C::k24, 18, 32}};

constexpr std::array kTests12{SupplyTest{"jump start", 24, 60},
                              SupplyTest{"long overvoltage", 18, 60 * 60},
                              SupplyTest{"reversed", -14, 60}};

constexpr std::array kDumps{LoadDump{C::k12, {79, 101}, {0.5, 4}, {40, 400}},
                            LoadDump{C::k24, {151, 202}, {1, 8}, {100, 350}}};

// Upper edge of each band below the last, at its least and its most.
constexpr std::array<Interval, 5> kEdges48{
    Interval{20, 24}, {36, 36}, {52, 52}, {54, 54}, {58, 60}};

bool within(const Interval& x, const Interval& range) {
  return sound(x) && x.lo >= range.lo && x.hi <= range.hi;
}

}  // namespace

Result<Check> check_window(Interval volts, double min_v, double max_v) {
  const Interval window{min_v, max_v};
  if (auto ok = check_input("window", window, {-100, 100}); !ok) return std::unexpected(ok.error());
  if (auto ok = check_input("volts", volts, {-1000, 1000}); !ok) return std::unexpected(ok.error());
  Check check = at_least("volts within the vehicle's window", "V", volts, window);
  // Best in the middle of the window, falling to both sides.
  const auto inside = [&](double v) { return std::min(v - min_v, max_v - v); };
  check.margin = {std::min(inside(volts.lo), inside(volts.hi)),
                  inside(std::clamp((min_v + max_v) / 2, volts.lo, volts.hi))};
  check.verdict = verdict_of(check.margin);
  return from(check, "vehicle's file", Standing::kMaker);
}

Check check_class(VoltageClass vehicle, VoltageClass source) {
  Check check = at_least("source of the vehicle's class", "V", exactly(static_cast<double>(source)),
                         exactly(static_cast<double>(vehicle)));
  check.margin = exactly(-std::abs(check.have.lo - check.need.lo));
  check.verdict = verdict_of(check.margin);
  return from(check, "equal nominal voltages, published pages", Standing::kSecondary);
}

std::span<const SupplyCode> supply_codes() { return kCodes; }

std::optional<SupplyCode> supply_code(char code) {
  for (const SupplyCode& row : kCodes) {
    if (row.code == code) return row;
  }
  return std::nullopt;
}

std::string_view word_of(Band48 band) {
  switch (band) {
    case Band48::kStorageProtection:
      return "undervoltage, storage protection";
    case Band48::kLowerLimited:
      return "lower limited operation";
    case Band48::kUnrestricted:
      return "unrestricted operation";
    case Band48::kUpperLimited:
      return "upper limited operation";
    case Band48::kOvervoltage:
      return "overvoltage";
    case Band48::kAboveTouchLimit:
      return "above the touch-voltage limit";
  }
  return "";
}

Result<Bands48> bands_48(Interval volts) {
  if (auto ok = check_input("volts", volts, {-1000, 1000}); !ok) return std::unexpected(ok.error());
  size_t least_band = 0, most_band = 0;
  for (const Interval& edge : kEdges48) {
    if (volts.lo >= edge.hi) ++least_band;
    if (volts.hi >= edge.lo) ++most_band;
  }
  return Bands48{static_cast<Band48>(least_band), static_cast<Band48>(most_band)};
}

std::span<const SupplyTest> supply_tests_12() { return kTests12; }
std::span<const LoadDump> load_dumps() { return kDumps; }

std::string_view word_of(Hint hint) {
  switch (hint) {
    case Hint::kNone:
      return "";
    case Hint::kReversed:
      return "clamps reversed";
    case Hint::k24VoltSource:
      return "24 V source";
    case Hint::k48VoltNet:
      return "48 V net";
  }
  return "";
}

Hint hint_at(Interval clamp_volts, VoltageClass job) {
  if (sound(clamp_volts) && clamp_volts.hi < kReversedBelowV) return Hint::kReversed;
  if (job == C::k12 && within(clamp_volts, kHint24V)) return Hint::k24VoltSource;
  if (job != C::k48 && within(clamp_volts, kHint48V)) return Hint::k48VoltNet;
  return Hint::kNone;
}

}  // namespace fairlead::physics
