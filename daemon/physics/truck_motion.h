// Accelerations of a loaded truck from its satellite receiver's velocities, against the g figures
// that tiedowns are reckoned for: evidence for or against a shifted load.
//
// Each figure is the slope of a straight line through the velocities of a window, so it is a mean
// over that window: a receiver at 1 Hz sees no bump, no kerb and no shorter peak, and "within" is
// said of the means only. Uncertainty is that of the slope, for noise that is white or hangs
// together over `tau_s`, whichever is worse, with z widened for the number of windows looked at
// (Bonferroni). Formula: least squares; the variance is w' C w for the slope's weights w and the
// noise's covariance C. Speed fixes are east and north components; forward is along the window's
// mean velocity.
//
// g figures: 49 CFR 393.102 (0.8 forward, 0.5 rearward, 0.5 sideways against breaking strength;
// 0.435, 0.5, 0.25 against working load limits); EN 12195-1: 0.8, 0.5, 0.5. Braking pushes the load
// forward.
//
// Threads: pure functions. Units: m/s, s, m/s2, times in microseconds. Errors: kBadInput.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "daemon/physics/interval.h"

namespace fairlead::physics {

struct SpeedFix {
  int64_t time_us = 0;
  double east_mps = 0, north_mps = 0;
  double sd_mps = 0.2;  // Per axis.
};

struct MotionSetting {
  double window_s = 2.0;
  double longest_gap_s = 1.5;  // Between fixes; a longer one ends a stretch.
  double tau_s = 1.5;          // Over which the receiver's errors hang together.
  double least_speed_mps = 2;  // Below, direction is noise and nothing is said.
  double false_alarm = 0.05;   // One-sided, over the whole drive.
};

/// What the load feels, as acceleration of the truck: braking is positive `braking`, gaining speed
/// negative; `left` is positive in a left-hand bend (the load is pushed to the right).
struct MotionWindow {
  int64_t from_us = 0, to_us = 0;
  size_t fixes = 0;
  double braking_mps2 = 0, left_mps2 = 0;
  double u_mps2 = 0;  // Half width for each, already widened for all windows.
};
/// Windows in order of time, one ending at each fix. Fixes must be in order of time.
[[nodiscard]] Result<std::vector<MotionWindow>> motion_windows(std::span<const SpeedFix> fixes,
                                                               const MotionSetting& setting = {});

/// The figures the tiedowns were reckoned for, in g.
struct AssumedG {
  double forward = 0.8, rearward = 0.5, sideways = 0.5;
};
enum class Push { kForward, kRearward, kLeft, kRight };
struct PeakMotion {
  Push push = Push::kForward;
  Interval g;       // Of the window with the largest mean.
  double best = 0;  // g.
  double assumed = 0;
  int64_t at_us = 0;
  /// kMet: no window's mean came near it; kDeviated: one was surely beyond; else unproven.
  Verdict within = Verdict::kUnproven;
};
struct MotionEvidence {
  std::vector<PeakMotion> peaks;  // One a direction, in the order of Push; empty: nothing to say.
  double seconds = 0;             // Of the drive that windows cover.
  double longest_silence_s = 0;   // Between fixes, inside the drive.
};
/// A stretch without fixes longer than `longest_gap_s` may hide anything: what would be kMet is
/// then unproven.
[[nodiscard]] Result<MotionEvidence> motion_evidence(std::span<const SpeedFix> fixes,
                                                     const AssumedG& assumed,
                                                     const MotionSetting& setting = {});

}  // namespace fairlead::physics
