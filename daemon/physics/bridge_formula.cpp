#include "daemon/physics/bridge_formula.h"

#include <algorithm>
#include <cmath>

namespace fairlead::physics {
namespace {

constexpr int kSingleLb = 20'000, kTandemLb = 34'000, kGrossLb = 80'000;
constexpr double kTandemFt = 8, kPairFt = 36;
constexpr size_t kMostAxles = 40;

int formula_lb(int axles, double span_ft) {
  const double pounds = 500 * (std::round(span_ft) * axles / (axles - 1) + 12 * axles + 36);
  return static_cast<int>(500 * std::floor(pounds / 500 + 0.5));
}

int limit_of(int axles, double span_ft, BridgeBound& bound) {
  bound = BridgeBound::kSingle;
  if (axles == 1) return kSingleLb;
  bound = BridgeBound::kTandem;
  if (span_ft <= kTandemFt) return kTandemLb;
  bound = BridgeBound::kFormula;
  const int by_formula = formula_lb(axles, span_ft);
  if (by_formula <= kGrossLb) return by_formula;
  bound = BridgeBound::kGross;
  return kGrossLb;
}

// Axles first..first+3 are two tandems whose ends are 36 ft apart or more.
bool is_tandem_pair(std::span<const AxleWeight> axles, size_t first, size_t last) {
  return last - first == 3 && axles[last].at_ft - axles[first].at_ft >= kPairFt &&
         axles[first + 1].at_ft - axles[first].at_ft <= kTandemFt &&
         axles[last].at_ft - axles[last - 1].at_ft <= kTandemFt;
}

Status check_axles(std::span<const AxleWeight> axles) {
  if (axles.empty() || axles.size() > kMostAxles)
    return fail(Code::kBadInput, fmt::format("axles: give 1 to {}", kMostAxles));
  for (size_t i = 0; i < axles.size(); ++i) {
    const auto& [at_ft, load_lb] = axles[i];
    if (auto fine = check_input(fmt::format("axle {}, ft", i + 1), exactly(at_ft), {0, 1000});
        !fine)
      return fine;
    if (auto fine = check_input(fmt::format("axle {}, lb", i + 1), exactly(load_lb), {0, 1e6});
        !fine)
      return fine;
    if (i > 0 && at_ft <= axles[i - 1].at_ft)
      return fail(Code::kBadInput,
                  fmt::format("axle {}, ft: must lie behind the one before", i + 1));
  }
  return {};
}

}  // namespace

Result<int> bridge_formula_lb(int axles, double span_ft) {
  if (auto fine = check_input("span, ft", exactly(span_ft), {0, 1000}); !fine)
    return std::unexpected(fine.error());
  if (axles < 2 || axles > static_cast<int>(kMostAxles))
    return fail(Code::kBadInput, fmt::format("axles: a group has 2 to {}", kMostAxles));
  return formula_lb(axles, span_ft);
}

Result<std::vector<BridgeGroup>> bridge_groups(std::span<const AxleWeight> axles) {
  if (auto fine = check_axles(axles); !fine) return std::unexpected(fine.error());
  std::vector<BridgeGroup> groups;
  for (size_t first = 0; first < axles.size(); ++first) {
    double load_lb = 0;
    for (size_t last = first; last < axles.size(); ++last) {
      load_lb += axles[last].load_lb;
      BridgeGroup group{.first = first, .last = last, .load_lb = load_lb};
      group.span_ft = axles[last].at_ft - axles[first].at_ft;
      group.limit_lb = limit_of(static_cast<int>(last - first) + 1, group.span_ft, group.bound);
      if (is_tandem_pair(axles, first, last) && group.limit_lb < 2 * kTandemLb) {
        group.limit_lb = 2 * kTandemLb;
        group.bound = BridgeBound::kTandemPair;
      }
      groups.push_back(group);
    }
  }
  std::stable_sort(groups.begin(), groups.end(), [](const BridgeGroup& a, const BridgeGroup& b) {
    return a.margin_lb() < b.margin_lb();
  });
  return groups;
}

Verdict recovery_exempt(const RecoveryClaim& claim) {
  if (!claim.claimed) return Verdict::kDeviated;
  if (claim.unit_gross_lb && claim.disabled_gross_lb) {
    const Verdict heavier = verdict_of(exactly(*claim.unit_gross_lb - *claim.disabled_gross_lb));
    if (heavier != Verdict::kMet) return heavier;
    if (!claim.disabled_at.empty() && !claim.facility.empty()) return Verdict::kMet;
  }
  return Verdict::kUnproven;
}

}  // namespace fairlead::physics
