// Way rolled from a satellite tag on the car: the sum of rest-to-rest chords, from Kalman filters
// whose noise is coloured, weighted by likelihood over a grid: 432 noise figures, and four ways in
// which the line may be early or late. The rests, where the line does not pull, tell the noise.
// Summing fixes instead overstates the way without bound (Ranacher et al., Int. J. Geographical
// Information Science 30(2), 2016). docs/roll.md shows how well it holds, as measured.
//
// Units: metres, seconds as doubles inside; results in whole millimetres, outward.
// Threads: pure functions. Bits: + - * / sqrt, the same on every build.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace fairlead::physics {

struct TagFix {
  int64_t time_us = 0;
  double east_m = 0, north_m = 0;
  double h_sd_m = 2.5;                        // Per axis.
  std::optional<double> east_mps, north_mps;  // Absent: no usable velocity.

  bool operator==(const TagFix&) const = default;
};

/// The car may move in [from, to); counted pulls add to the way, others (a sliding deck) do not.
struct TagPull {
  int64_t from_us = 0, to_us = 0;
  bool counted = true;

  bool operator==(const TagPull&) const = default;
};

/// What the upper end allows for beyond noise (choices of ours).
struct TagAllowance {
  double turn_deg = 30.0;  // Of the wheels' path within one pull: the way is longer than its chord.
  bool creep = true;       // Drift of the Doppler readings in the rests that follow the pulls.
};

/// The way as a mixture of normal distributions, before any allowance.
struct TagPosterior {
  struct Member {
    double mean, variance, weight;
    double corrected;  // As `mean`, of the chords as corrected for the length that noise adds.
  };
  std::vector<Member> members;
  double creep_m = 0;             // Largest drift seen in one rest after a pull.
  std::vector<size_t> set_aside;  // Fixes beyond 4 s.d. of the likeliest member.

  [[nodiscard]] double share_below(double way_m) const;
  [[nodiscard]] double quantile(double share) const;
  /// The middle of what the corrected chords say, within the range given: 0 where all is noise.
  [[nodiscard]] double best(double lo_m, double hi_m) const;
};

struct TagWay {
  int64_t lo_mm = 0, best_mm = 0, hi_mm = 0;  // 2.5 %, best(), 97.5 %, hi with its allowances.
  std::vector<size_t> set_aside;              // Indices of fixes that were not used.
};

/// `fixes` in order of time, with the rests around the pulls; `pulls` sorted, not overlapping.
/// nullopt with fewer than 3 fixes, or without a fix at rest before and after the pulls, or with
/// more than 8 counted pulls (tag_way takes those apart).
[[nodiscard]] std::optional<TagPosterior> tag_posterior(std::span<const TagFix> fixes,
                                                        std::span<const TagPull> pulls,
                                                        const TagAllowance& allowance = {});

/// The posterior's range with its allowances.
[[nodiscard]] TagWay way_of(const TagPosterior& posterior, const TagAllowance& allowance);

[[nodiscard]] std::optional<TagWay> tag_way(std::span<const TagFix> fixes,
                                            std::span<const TagPull> pulls,
                                            const TagAllowance& allowance = {});

}  // namespace fairlead::physics
