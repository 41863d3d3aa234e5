// Weight limits by axle groups on United States interstate roads: 23 USC 127(a), 23 CFR 658.17.
// W = 500 (L N / (N - 1) + 12 N + 36), to the nearest 500 lb, for every group of two or more
// consecutive axles; a tandem (8 ft or less) 34,000 lb, one axle 20,000 lb, all together 80,000 lb;
// two consecutive tandems may carry 34,000 lb each where their ends are 36 ft apart or more.
// 23 USC 127(m): the limits do not apply to a heavy recovery unit under conditions that States read
// narrowly, so it is a flag with its evidence. Not legal advice; States add limits of their own.
//
// Threads: pure functions. Units: the rule's own, feet and pounds, printed as they are there.
// Errors: kBadInput, naming the input.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/physics/interval.h"

namespace fairlead::physics {

/// The formula alone, N axles over L feet (taken to the nearest foot, as enforcement does, from
/// memory), without the tandem, single and gross limits.
[[nodiscard]] Result<int> bridge_formula_lb(int axles, double span_ft);

struct AxleWeight {
  double at_ft = 0;  // From the first axle backward.
  double load_lb = 0;
};

enum class BridgeBound { kSingle, kTandem, kFormula, kTandemPair, kGross };
struct BridgeGroup {
  size_t first = 0, last = 0;  // Axles from and to, both counted.
  double span_ft = 0, load_lb = 0;
  int limit_lb = 0;
  BridgeBound bound = BridgeBound::kSingle;
  [[nodiscard]] double margin_lb() const { return limit_lb - load_lb; }
};
/// Every axle and every group of consecutive axles, worst margin first.
[[nodiscard]] Result<std::vector<BridgeGroup>> bridge_groups(std::span<const AxleWeight> axles);

/// What 127(m) asks to be shown. It moves a vehicle that is disabled, from where it became so, to
/// the nearest appropriate repair facility, and weighs no less than that vehicle.
struct RecoveryClaim {
  bool claimed = false;
  std::string disabled_at, facility;
  std::optional<double> unit_gross_lb, disabled_gross_lb;
};
/// kMet: the limits do not apply; kUnproven: claimed, evidence missing; kDeviated: they apply.
[[nodiscard]] Verdict recovery_exempt(const RecoveryClaim& claim);

}  // namespace fairlead::physics
