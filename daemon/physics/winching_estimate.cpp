#include "daemon/physics/winching_estimate.h"

#include <algorithm>

#include "daemon/physics/securement_parts.h"

namespace fairlead::physics {
namespace {

Result<Interval> rolling(const PullSite& site) {
  if (!site.family) return surface_share_of_all(site.surface);
  const auto share = surface_share(*site.family, site.surface);
  if (share) return exactly(*share);
  return fail(Code::kNotFound, fmt::format("{} has no figure for {}; name another family",
                                           name_of(*site.family), word_of(site.surface)));
}

}  // namespace

Result<PullEstimate> estimate_pull(const PullSite& site, Purpose purpose) {
  if (auto ok = check_input("mass_kg", site.mass_kg, {0, 1e7}); !ok)
    return std::unexpected(ok.error());
  const auto grade = purpose == Purpose::kEvidence ? grade_share_exact(site.slope_deg)
                                                   : grade_share_rule(site.slope_deg);
  if (!grade) return std::unexpected(grade.error());
  const auto surface =
      site.wheels_locked ? Result<Interval>(exactly(kLockedWheelsShare)) : rolling(site);
  if (!surface) return std::unexpected(surface.error());
  PullEstimate estimate;
  estimate.parts = {.surface = *surface,
                    .grade = *grade,
                    .mire = exactly(mire_share(site.mire)),
                    .damage = exactly(site.overturned ? kOverturnedShare : 0)};
  const double margin = purpose == Purpose::kPlanning ? kPlanningMargin : 1;
  const Interval share = greatest(total_share(estimate.parts, site.mire_rule), exactly(0));
  estimate.pull_n = margin * kStandardGravity * (share * site.mass_kg);
  estimate.basis =
      fmt::format("{}; {}", site.family ? std::string(name_of(*site.family)) : "all families",
                  purpose == Purpose::kEvidence ? "grade by exact sine"
                                                : "grade by the rule of thumb, a quarter more");
  return estimate;
}

Result<std::optional<PartsPlan>> fewest_parts(Interval pull_n, Interval available_n) {
  if (auto ok = check_input("available_n", available_n, {0, 1e8}); !ok)
    return std::unexpected(ok.error());
  for (int parts = 1; parts <= kMostParts; ++parts) {
    const Tackle tackle{.parts = parts, .sheaves = parts - 1, .parts_at_anchor = parts};
    const auto loads = tackle_loads(pull_n, tackle);
    if (!loads) return std::unexpected(loads.error());
    if (loads->line_n.hi <= available_n.lo) return PartsPlan{tackle, *loads};
  }
  return std::nullopt;
}

}  // namespace fairlead::physics
