// State of charge of a 12 V lead-acid battery from its voltage at rest. Published tables differ by
// 0.1 to 0.3 V when low, and a meter of 1 % is worth 15 % of charge, so the answer is an interval
// and carries the name of its table. Between printed rows: straight lines (common practice).
//
// Threads: pure functions over constants. Units: V; charge as a share of 1.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "daemon/physics/check.h"

namespace fairlead::physics {

enum class RestTable { kTypical, kVariantA, kVariantB };
[[nodiscard]] std::string_view name_of(RestTable table);

struct RestRow {
  double charge, volts;
  std::optional<Interval> gravity;  // Specific gravity of the acid, where printed.
};
/// From full to the last printed row.
[[nodiscard]] std::span<const RestRow> rest_rows(RestTable table);
[[nodiscard]] Standing standing_of(RestTable table);

/// Hours off charge and load until the tables hold; surface charge can take longer to fade.
inline constexpr double kRestHours = 6;

struct RestCharge {
  Interval charge;  // Within 0 to 1.
  std::string_view table;
  bool rested = false;  // False: surface charge or a load may stand in the reading.
};
/// Below the last printed row: from 0 to that row's charge. Errors: kBadInput for volts that are
/// NaN or outside 0 to 20 V (another class), hours that are negative or NaN.
[[nodiscard]] Result<RestCharge> charge_at_rest(RestTable table, Interval volts,
                                                double hours_at_rest);
/// Over all tables: for when nobody chose one; the table's name is then "all tables".
[[nodiscard]] Result<RestCharge> charge_at_rest_of_all(Interval volts, double hours_at_rest);

/// Charge against what is wanted; unproven before it has rested. The table's name is in the words.
[[nodiscard]] Check check_charge(const RestCharge& found, double wanted);

}  // namespace fairlead::physics
