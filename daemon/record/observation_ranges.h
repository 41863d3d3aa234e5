// Which signals a sample may carry and which values are sane, so that a broken sensor or a wrong
// unit is refused at the door with the field's name instead of being judged.
// Ranges by signal: vocabulary, "Quantities"; where it states none the bound is a choice of ours,
// wide enough for any working instrument (common practice, no source).
//
// Threads: pure functions over constants. Units: SI, named beside each range.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

namespace fairlead::record {

/// Both ends belong to the range.
struct SaneRange {
  double lo = 0;
  double hi = 0;
  std::string_view unit;
  /// Only whole numbers (contact senses: 0 or 1).
  bool whole = false;
};

/// Every signal a `sample` line may carry, in a fixed order.
[[nodiscard]] std::span<const std::string_view> signal_names();

/// Step of the whole numbers a signal is stored and judged in, in the signal's unit (0.001 for mm
/// of a length in m); nullopt for a signal that does not exist.
[[nodiscard]] std::optional<double> resolution_of_signal(std::string_view signal);

/// floor(value / resolution + 0.5): the one rounding from sensor values to judged whole numbers.
[[nodiscard]] int64_t quantised_count(double value, double resolution);

/// Range of a sample's value; nullopt for a signal that does not exist.
[[nodiscard]] std::optional<SaneRange> range_of_signal(std::string_view signal);

/// Range of a number field, by message and field as the .proto names them ("Fix", "lat_deg");
/// nullopt where any number the type holds is sane.
[[nodiscard]] std::optional<SaneRange> range_of_field(std::string_view message,
                                                      std::string_view field);

}  // namespace fairlead::record
