#include "daemon/physics/boosting_rest.h"

#include <algorithm>
#include <array>

namespace fairlead::physics {
namespace {

constexpr std::array kTypical{
    RestRow{1.00, 12.65, Interval{1.265, 1.265}}, RestRow{0.75, 12.45, Interval{1.225, 1.225}},
    RestRow{0.50, 12.24, Interval{1.190, 1.190}}, RestRow{0.25, 12.06, Interval{1.155, 1.155}},
    RestRow{0.00, 11.89, Interval{1.120, 1.120}}};
constexpr std::array kVariantA{RestRow{1.00, 12.6, {}}, RestRow{0.75, 12.4, {}},
                               RestRow{0.50, 12.2, {}}, RestRow{0.25, 12.0, {}},
                               RestRow{0.00, 11.6, {}}};
constexpr std::array kVariantB{
    RestRow{1.00, 12.66, Interval{1.260, 1.280}}, RestRow{0.75, 12.45, Interval{1.230, 1.250}},
    RestRow{0.50, 12.30, Interval{1.200, 1.220}}, RestRow{0.25, 12.15, Interval{1.170, 1.190}}};

Interval charge_at(std::span<const RestRow> rows, double volts) {
  if (volts >= rows.front().volts) return exactly(rows.front().charge);
  for (size_t i = 1; i < rows.size(); ++i) {
    const RestRow &upper = rows[i - 1], &lower = rows[i];
    if (volts < lower.volts) continue;
    const double part = (volts - lower.volts) / (upper.volts - lower.volts);
    return exactly(lower.charge + part * (upper.charge - lower.charge));
  }
  return {0, rows.back().charge};
}

}  // namespace

std::string_view name_of(RestTable table) {
  switch (table) {
    case RestTable::kTypical:
      return "typical table of battery makers, from memory";
    case RestTable::kVariantA:
      return "variant A";
    case RestTable::kVariantB:
      return "variant B";
  }
  return "";
}

std::span<const RestRow> rest_rows(RestTable table) {
  if (table == RestTable::kTypical) return kTypical;
  if (table == RestTable::kVariantA) return kVariantA;
  return kVariantB;
}

Standing standing_of(RestTable table) {
  return table == RestTable::kTypical ? Standing::kMemory : Standing::kSecondary;
}

Result<RestCharge> charge_at_rest(RestTable table, Interval volts, double hours_at_rest) {
  if (auto ok = check_input("volts", volts, {0, 20}); !ok) return std::unexpected(ok.error());
  if (auto ok = check_input("hours_at_rest", exactly(hours_at_rest), {0, kNoBound}); !ok)
    return std::unexpected(ok.error());
  const auto rows = rest_rows(table);
  return RestCharge{{charge_at(rows, volts.lo).lo, charge_at(rows, volts.hi).hi},
                    name_of(table),
                    hours_at_rest >= kRestHours};
}

Result<RestCharge> charge_at_rest_of_all(Interval volts, double hours_at_rest) {
  RestCharge all{{1, 0}, "all tables", false};
  for (const RestTable table : {RestTable::kTypical, RestTable::kVariantA, RestTable::kVariantB}) {
    const auto one = charge_at_rest(table, volts, hours_at_rest);
    if (!one) return one;
    all.charge = {std::min(all.charge.lo, one->charge.lo), std::max(all.charge.hi, one->charge.hi)};
    all.rested = one->rested;
  }
  return all;
}

Check check_charge(const RestCharge& found, double wanted) {
  const Interval charge = found.rested ? found.charge : Interval{0, 1};
  return from(at_least("state of charge from rest voltage", "share", charge, exactly(wanted)),
              "rest-voltage table", Standing::kSecondary,
              fmt::format("by {}{}", found.table,
                          found.rested ? "" : "; not yet rested, so the reading shows nothing"));
}

}  // namespace fairlead::physics
