// The closed list of names a procedure can use: facts, events, quantities, and files' fields.
//
// Threads: pure functions over constants.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "daemon/base/result.h"
#include "daemon/base/units.h"

namespace fairlead::judge {

/// How a quantity is stored and how far a reading may be trusted when no register file says more.
struct QuantityInfo {
  std::string_view name, says;
  Dimension dimension;
  double resolution;        // SI units (as in a sample line) of one stored unit.
  int64_t longest_hole_us;  // 0: held until the next line, or exact.
  int64_t sd_share_ppm;     // Default s.d.: this share of the value ...
  int64_t sd_milli;         // ... plus this many thousandths of the stored unit.
  int64_t tau_us;           // Correlation time of its noise.
  bool total = false;       // Only total_in_phase can judge it.
};

/// A name and what it says; empty where the name says it.
struct Named {
  std::string_view name, says;
};
[[nodiscard]] std::span<const QuantityInfo> quantities();
[[nodiscard]] std::span<const Named> facts();
/// "tied:" and its like, which want a word behind the colon: `says` tells which.
[[nodiscard]] std::span<const Named> fact_families();
[[nodiscard]] std::span<const Named> momentary_events();
[[nodiscard]] std::span<const Named> event_families();

/// All of it as people read it, for `fairlead check-procedure --names`.
[[nodiscard]] std::string vocabulary_text();

[[nodiscard]] const QuantityInfo* find_quantity(std::string_view name);
[[nodiscard]] std::span<const std::string_view> quantity_names();

/// Errors: kBadInput, "unknown fact 'x'; the nearest is 'y'", or what kind of name it is.
[[nodiscard]] Status check_fact(std::string_view name);
/// Whether the fact is worked out from others, not said or measured itself.
[[nodiscard]] bool is_derived(std::string_view fact);
/// A momentary event, or FACT.on / FACT.off. `phases`: ids that phase:ID may name.
[[nodiscard]] Status check_event(std::string_view name, std::span<const std::string> phases);
[[nodiscard]] Status check_quantity(std::string_view name);

/// The fact and edge behind "FACT.on" / "FACT.off"; nullopt for momentary events.
struct FactEvent {
  std::string fact;
  bool on = true;
};
[[nodiscard]] std::optional<FactEvent> fact_event(std::string_view name);

/// What kind of quantity a file's field ("vehicle.rolling_speed") holds; nullopt if unknown.
[[nodiscard]] std::optional<Dimension> file_field_dimension(std::string_view name);
[[nodiscard]] std::span<const std::string_view> file_field_names();

}  // namespace fairlead::judge
