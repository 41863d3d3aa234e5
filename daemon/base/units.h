// Quantities as files write them ("5 km/h", "35.6 kN", "80 %") and as we judge them: whole numbers
// of one stored unit per dimension. A text is read through an exact rational, never through double.
//
// Stored units: length mm, speed mm/s, force N, mass g, voltage mV, current mA, time us, angle
// millidegrees, temperature 10 mdegC, acceleration mm/s2, share millionths, count items.
// Sources of factors: SI Brochure 9th ed.; NIST SP 811 (mile 1609.344 m, foot 0.3048 m, inch
// 25.4 mm, pound 0.45359237 kg, pound-force 4.4482216152605 N).
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead {

enum class Dimension {
  kLength,
  kSpeed,
  kForce,
  kMass,
  kVoltage,
  kCurrent,
  kTime,
  kAngle,
  kTemperature,
  kAcceleration,
  kShare,
  kCount,
};

/// Exact: numerator / denominator of the stored unit, denominator > 0, reduced.
struct Rational {
  int64_t num = 0;
  int64_t den = 1;
};

/// A quantity text as written: its value in stored units and the unit word used.
struct Quantity {
  Rational stored;
  Dimension dimension = Dimension::kCount;
  std::string unit;

  [[nodiscard]] int64_t floor() const;
  [[nodiscard]] int64_t ceil() const;
  /// Nearest stored unit, half away from zero upward.
  [[nodiscard]] int64_t nearest() const;
};

/// Reads "number unit" ("5 km/h", "-0.5 V", "3 1/2" is not read). A plain number is a share of 1
/// for kShare and a count for kCount. Errors: kBadInput; a known unit of another dimension is
/// named.
[[nodiscard]] Result<Quantity> parse_quantity(std::string_view text, Dimension wanted);

/// Stored units in one of unit `name` ("km/h" -> 2500/9 mm/s). Errors: kBadInput for unknown names.
[[nodiscard]] Result<Rational> unit_factor(std::string_view name, Dimension wanted);

[[nodiscard]] std::string_view dimension_name(Dimension dimension);
/// "a speed", "an angle".
[[nodiscard]] std::string a_dimension(Dimension dimension);
/// All that may be written: "mm/s, m/s, km/h, mph, m/min, ft/min".
[[nodiscard]] std::string unit_names(Dimension dimension);
/// The unit used when nothing else names one: m, km/h, kN, kg, V, A, s, deg, degC, m/s2, %, items.
[[nodiscard]] std::string_view display_unit(Dimension dimension);

enum class Toward { kDown, kUp, kNearest };

/// stored / factor as a decimal with `decimals` places, rounded as asked, trailing zeros kept off.
/// Used to print a bound outward: the printed number never claims more than the stored one.
[[nodiscard]] std::string format_in_unit(int64_t stored, Rational factor, int decimals,
                                         Toward toward);

}  // namespace fairlead
