#include "daemon/physics/winching_rigging.h"

namespace fairlead::physics {
namespace {

Interval counted_limit(const RiggingPart& part) {
  if (part.counts == Verdict::kDeviated) return exactly(0);
  if (part.counts == Verdict::kUnproven) return {0, part.limit_n.hi};
  return part.limit_n;
}

// Line pull at which a part reaches its limit; one that sees nothing never does.
double line_pull(double limit, double share) { return share > 0 ? limit / share : kNoBound; }

}  // namespace

DesignFactor design_factor(Rigging kind) {
  switch (kind) {
    case Rigging::kWireRopeSling:
      return {5, Standing::kMemory};
    case Rigging::kSyntheticSling:
      return {5, Standing::kMemory};
    case Rigging::kAlloyChainSling:
      return {4, Standing::kSecondary};
    case Rigging::kShackle:
      return {5, Standing::kMemory};
    case Rigging::kTiedown:
      return {3, Standing::kSecondary};
  }
  return {5, Standing::kMemory};
}

Interval limit_from_strength_n(Rigging kind, Interval breaking_n) {
  return breaking_n / exactly(design_factor(kind).factor);
}

WeakestRigging weakest_rigging(std::span<const RiggingPart> parts) {
  WeakestRigging weakest{{kNoBound, kNoBound}, {}};
  for (const RiggingPart& part : parts) {
    const Interval pull = over_corners(line_pull, counted_limit(part), part.share_of_line);
    if (weakest.part.empty() || pull.lo < weakest.line_pull_n.lo) weakest.part = part.name;
    weakest.line_pull_n = least(weakest.line_pull_n, pull);
  }
  return weakest;
}

Result<std::vector<Check>> check_peak(Interval peak_n, std::span<const RiggingPart> parts) {
  if (auto ok = check_input("peak_n", peak_n, {0, 1e8}); !ok) return std::unexpected(ok.error());
  std::vector<Check> checks;
  for (const RiggingPart& part : parts) {
    if (auto ok = check_input("limit of '" + part.name + "'", part.limit_n, {0, kNoBound}); !ok)
      return std::unexpected(ok.error());
    if (auto ok = check_input("share of '" + part.name + "'", part.share_of_line, {0, 100}); !ok)
      return std::unexpected(ok.error());
    const std::string words =
        part.counts == Verdict::kMet
            ? ""
            : fmt::format("{} count: {}",
                          part.counts == Verdict::kDeviated ? "does not" : "may not", part.why);
    checks.push_back(
        from(at_most("pull on " + part.name, "N", part.share_of_line * peak_n, counted_limit(part)),
             "rating of the part", Standing::kMaker, words));
  }
  return checks;
}

}  // namespace fairlead::physics
