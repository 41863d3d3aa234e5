#include "daemon/physics/securement_counts.h"

namespace fairlead::physics {
namespace {

// 393.110(b), (c), as printed.
struct LengthRule {
  double one_at_most_length, one_at_most_weight, two_at_most_length, step;
};
constexpr LengthRule kMetric{1.52, 500, 3.04, 3.04};
constexpr LengthRule kCustomary{5, 1100, 10, 10};

// Whole pieces; a length of exactly so many steps takes no further one through rounding.
double steps(double lengths) { return std::ceil(lengths - 1e-9); }

double by_length(const LengthRule& rule, double length, double weight, bool blocked) {
  if (blocked) return std::max(1.0, steps(length / rule.step));
  if (length <= rule.one_at_most_length) return weight <= rule.one_at_most_weight ? 1 : 2;
  if (length <= rule.two_at_most_length) return 2;
  return 2 + steps((length - rule.two_at_most_length) / rule.step);
}

// Pieces that count: surely, and possibly.
Interval counted(std::span<const PlacedTiedown> placed, std::optional<End> end, double least_wll) {
  Interval number = exactly(0);
  for (const PlacedTiedown& one : placed) {
    if (end && one.end != *end) continue;
    const Weakest weakest = weakest_part(one.tiedown);
    if (weakest.counts == Verdict::kMet && weakest.wll.lo >= least_wll) number.lo += 1;
    if (weakest.counts != Verdict::kDeviated && weakest.wll.hi >= least_wll) number.hi += 1;
  }
  return number;
}

std::vector<Check> by_rule(std::span<const PlacedTiedown> placed, double least_wll, int all,
                           const std::string& origin, const std::string& words) {
  std::vector<Check> checks;
  const auto add = [&](const std::string& what, std::optional<End> end, int need) {
    checks.push_back(from(at_least(what, "items", counted(placed, end, least_wll), exactly(need)),
                          origin, Standing::kSecondary, words));
  };
  add("tiedowns", std::nullopt, all);
  add("tiedowns at the front", End::kFront, all / 2);
  add("tiedowns at the rear", End::kRear, all / 2);
  return checks;
}

}  // namespace

Result<Interval> least_tiedowns_by_length(Interval length, Interval weight, bool blocked_forward,
                                          WeightUnit unit) {
  if (auto ok = check_input("length", length, {0, 1e3}); !ok) return std::unexpected(ok.error());
  if (auto ok = check_input("weight", weight, {0, 1e7}); !ok) return std::unexpected(ok.error());
  const LengthRule& rule = unit == WeightUnit::kKg ? kMetric : kCustomary;
  return over_corners([&](double l, double w) { return by_length(rule, l, w, blocked_forward); },
                      length, weight);
}

Result<std::vector<Check>> check_vehicle_count(std::span<const PlacedTiedown> placed,
                                               Interval weight, WeightUnit unit,
                                               VehicleCount count) {
  if (auto ok = check_input("weight", weight, {0, 1e7}); !ok) return std::unexpected(ok.error());
  const double limit = light_vehicle_limit(unit);
  const int light_count = static_cast<int>(count);
  const auto light = by_rule(placed, 0, light_count, "49 CFR 393.128(b)(1)",
                             fmt::format("read as {} for a vehicle, a setting", light_count));
  const auto heavy = by_rule(placed, heavy_tiedown_wll(unit), kHeavyCount, "49 CFR 393.130",
                             fmt::format("each of {} {}", heavy_tiedown_wll(unit), word_of(unit)));
  if (weight.hi <= limit) return light;
  if (weight.lo > limit) return heavy;
  std::vector<Check> merged = light;
  for (size_t i = 0; i < merged.size(); ++i) {
    const Check& other = heavy[i];
    Check& check = merged[i];
    check.origin += " or 393.130, as the weight may pass the limit";
    check.words += "; " + other.words;
    check.have = {std::min(check.have.lo, other.have.lo), std::max(check.have.hi, other.have.hi)};
    check.need = {std::min(check.need.lo, other.need.lo), std::max(check.need.hi, other.need.hi)};
    check.margin = {std::min(check.margin.lo, other.margin.lo),
                    std::max(check.margin.hi, other.margin.hi)};
    check.verdict = verdict_of(check.margin);
  }
  return merged;
}

}  // namespace fairlead::physics
