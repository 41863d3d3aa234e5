#include "daemon/physics/truck_motion.h"

#include <array>
#include <boost/math/distributions/normal.hpp>
#include <cmath>

namespace fairlead::physics {
namespace {

constexpr double kGravity = 9.80665;  // m/s2, SI Brochure 9th ed.
constexpr double kFastestMps = 1000;  // No truck is; bounds the sums.
constexpr size_t kFewest = 3;         // A line through two points has no noise to show.

double seconds_between(int64_t from_us, int64_t to_us) {
  return static_cast<double>(to_us - from_us) / 1e6;
}

Status check_setting(const MotionSetting& s) {
  for (const auto& [name, value, allowed] :
       {std::tuple{"window, s", s.window_s, Interval{0.2, 60}},
        std::tuple{"longest gap, s", s.longest_gap_s, Interval{0.05, 60}},
        std::tuple{"tau, s", s.tau_s, Interval{0, 600}},
        std::tuple{"least speed, m/s", s.least_speed_mps, Interval{0, 60}},
        std::tuple{"false alarm", s.false_alarm, Interval{1e-6, 0.5}}}) {
    if (auto fine = check_input(name, exactly(value), allowed); !fine) return fine;
  }
  return {};
}

Status check_fixes(std::span<const SpeedFix> fixes) {
  for (size_t i = 0; i < fixes.size(); ++i) {
    const SpeedFix& fix = fixes[i];
    const bool velocity =
        std::abs(fix.east_mps) <= kFastestMps && std::abs(fix.north_mps) <= kFastestMps;
    if (!velocity || !(fix.sd_mps > 0 && fix.sd_mps <= kFastestMps))
      return fail(Code::kBadInput,
                  fmt::format("fix {}: its velocity or s.d. is not that of a truck", i + 1));
    if (i > 0 && fix.time_us <= fixes[i - 1].time_us)
      return fail(Code::kBadInput, fmt::format("fix {}: not later than the one before", i + 1));
  }
  return {};
}

struct Slope {
  double east = 0, north = 0, variance = 0;
};

// Least squares through the window; the variance for white and for coloured noise, the larger.
Slope slope_of(std::span<const SpeedFix> window, double tau_s) {
  std::vector<double> weight;
  double mean = 0, square = 0;
  for (const SpeedFix& fix : window)
    weight.push_back(seconds_between(window.front().time_us, fix.time_us));
  for (const double t : weight) mean += t / static_cast<double>(weight.size());
  for (double& t : weight) square += (t - mean) * (t - mean);
  for (double& t : weight) t = (t - mean) / square;
  Slope slope;
  double white = 0, coloured = 0;
  for (size_t i = 0; i < window.size(); ++i) {
    slope.east += weight[i] * window[i].east_mps;
    slope.north += weight[i] * window[i].north_mps;
    for (size_t j = 0; j < window.size(); ++j) {
      const double covariance = weight[i] * weight[j] * window[i].sd_mps * window[j].sd_mps;
      if (i == j) white += covariance;
      const double apart = std::abs(seconds_between(window[i].time_us, window[j].time_us));
      if (i == j || tau_s > 0) coloured += covariance * (i == j ? 1 : std::exp(-apart / tau_s));
    }
  }
  slope.variance = std::max(white, coloured);
  return slope;
}

std::optional<MotionWindow> window_over(std::span<const SpeedFix> fixes, const MotionSetting& s) {
  if (fixes.size() < kFewest) return std::nullopt;
  double east = 0, north = 0;
  for (const SpeedFix& fix : fixes) {
    east += fix.east_mps / static_cast<double>(fixes.size());
    north += fix.north_mps / static_cast<double>(fixes.size());
  }
  const double speed = std::hypot(east, north);
  if (!(speed >= s.least_speed_mps)) return std::nullopt;
  const Slope slope = slope_of(fixes, s.tau_s);
  MotionWindow window{
      .from_us = fixes.front().time_us, .to_us = fixes.back().time_us, .fixes = fixes.size()};
  window.braking_mps2 = -(slope.east * east + slope.north * north) / speed;
  window.left_mps2 = (slope.north * east - slope.east * north) / speed;
  window.u_mps2 = std::sqrt(slope.variance);  // Widened once the number of windows is known.
  return window;
}

Interval push_g(const MotionWindow& window, Push push) {
  const double value = push == Push::kForward    ? window.braking_mps2
                       : push == Push::kRearward ? -window.braking_mps2
                       : push == Push::kRight    ? window.left_mps2
                                                 : -window.left_mps2;
  return plus_minus(value, window.u_mps2) * (1 / kGravity);
}

double middle(const Interval& x) { return (x.lo + x.hi) / 2; }

}  // namespace

Result<std::vector<MotionWindow>> motion_windows(std::span<const SpeedFix> fixes,
                                                 const MotionSetting& s) {
  if (auto fine = check_setting(s); !fine) return std::unexpected(fine.error());
  if (auto fine = check_fixes(fixes); !fine) return std::unexpected(fine.error());
  std::vector<MotionWindow> windows;
  size_t stretch = 0, from = 0;
  for (size_t i = 0; i < fixes.size(); ++i) {
    if (i > 0 && seconds_between(fixes[i - 1].time_us, fixes[i].time_us) > s.longest_gap_s)
      stretch = from = i;
    while (seconds_between(fixes[from].time_us, fixes[i].time_us) > s.window_s) ++from;
    // A window that the stretch has not filled yet would be shorter, and noisier, than it says.
    if (seconds_between(fixes[stretch].time_us, fixes[i].time_us) < s.window_s * 0.99) continue;
    if (auto window = window_over(fixes.subspan(from, i - from + 1), s)) windows.push_back(*window);
  }
  if (windows.empty()) return windows;
  const double share = s.false_alarm / static_cast<double>(windows.size());
  const double z = quantile(complement(boost::math::normal_distribution<double>(), share));
  for (MotionWindow& window : windows) window.u_mps2 *= z;
  return windows;
}

Result<MotionEvidence> motion_evidence(std::span<const SpeedFix> fixes, const AssumedG& assumed,
                                       const MotionSetting& setting) {
  for (const auto& [name, value] :
       {std::pair{"forward g", assumed.forward}, std::pair{"rearward g", assumed.rearward},
        std::pair{"sideways g", assumed.sideways}}) {
    if (auto fine = check_input(name, exactly(value), {0.01, 10}); !fine)
      return std::unexpected(fine.error());
  }
  const auto windows = motion_windows(fixes, setting);
  if (!windows) return std::unexpected(windows.error());
  MotionEvidence evidence;
  for (size_t i = 1; i < fixes.size(); ++i) {
    evidence.longest_silence_s = std::max(evidence.longest_silence_s,
                                          seconds_between(fixes[i - 1].time_us, fixes[i].time_us));
  }
  if (windows->empty()) return evidence;
  int64_t covered_to = windows->front().from_us;
  for (const MotionWindow& window : *windows) {
    evidence.seconds += seconds_between(std::max(covered_to, window.from_us), window.to_us);
    covered_to = window.to_us;
  }
  for (const Push push : {Push::kForward, Push::kRearward, Push::kLeft, Push::kRight}) {
    PeakMotion peak{.push = push, .g = {}, .best = -kNoBound};
    peak.assumed = push == Push::kForward    ? assumed.forward
                   : push == Push::kRearward ? assumed.rearward
                                             : assumed.sideways;
    double beyond = -kNoBound, most = -kNoBound;
    for (const MotionWindow& window : *windows) {
      const Interval g = push_g(window, push);
      beyond = std::max(beyond, g.lo);
      most = std::max(most, g.hi);
      if (middle(g) <= peak.best) continue;
      peak.g = g;
      peak.best = middle(g);
      peak.at_us = window.to_us;
    }
    peak.within = beyond > peak.assumed ? Verdict::kDeviated
                  : most <= peak.assumed && evidence.longest_silence_s <= setting.longest_gap_s
                      ? Verdict::kMet
                      : Verdict::kUnproven;
    evidence.peaks.push_back(peak);
  }
  return evidence;
}

}  // namespace fairlead::physics
