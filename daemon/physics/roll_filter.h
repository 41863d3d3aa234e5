// One Kalman filter of the roll estimator (roll_tag.h): its noise figures are one point of the
// grid there. Both axes share one covariance; each has its own mean.
//
// State: m multipath and d Doppler error, both Ornstein-Uhlenbeck; p position; one chord a counted
// pull (while it lasts: where it began); and, while the car may move, its speed: u, steady over the
// pull, s.d. 1 m/s, and v, first-order: towards u while the car may be starting and under way,
// towards 0 while it may be stopping. A stop that heads for u would take the standing car at its
// end for a slow pull, and all of the pull for slower than it was. At rest there is neither: v is
// exactly 0. A chord hangs together with p, m and d, so later fixes improve it: what a backward
// pass would do, done on the way.
//
// Units: metres, seconds. Threads: values only. Bits: + - * / sqrt, the same on every build.
#pragma once

#include <array>
#include <cstddef>

namespace fairlead::physics {

struct RollNoise {
  double tau_m, sd_d, sd_u, tau_d;  // sd_u: white part of a velocity reading.
};

/// What is left after `dt` seconds of each error and of a difference in speed, under way or while
/// starting or stopping: exp(-dt / tau). The filters of a grid share few time constants, so whoever
/// runs them reckons each once a step.
struct RollFade {
  double dt, m, d, under_way, edge;
  bool hole;  // Part of a stretch without a fix.
};

enum class RollMotion { kStarting, kUnderWay, kStopping };

class RollFilter {
 public:
  static constexpr size_t kMostChords = 8;
  static constexpr double kUnderWayTau = 5.0, kEdgeTau = 2.5;  // s, of v.

  RollFilter(const RollNoise& noise, double h_sd);
  /// From two filters that have only seen rest: one the positions, one the velocities. At rest the
  /// two have nothing in common, so this equals, bit for bit, one that has seen both.
  RollFilter(const RollNoise& noise, const RollFilter& positions, const RollFilter& velocities);

  void advance(const RollFade& fade, double h_sd);
  /// Motion begins or ends; `counted`: the way between adds a chord.
  void begin(bool counted);
  void end();
  /// It is starting from begin() on.
  void set_motion(RollMotion motion) { motion_ = motion; }
  /// False: more than 4 s.d. off and set aside. The third in a row is no outlier but a step of the
  /// multipath (or of the Doppler error), which then starts anew.
  bool observe_position(double east, double north, double h_sd);
  bool observe_velocity(double east, double north);

  [[nodiscard]] const RollNoise& noise() const { return noise_; }
  [[nodiscard]] double log_likelihood() const;
  [[nodiscard]] size_t chords() const { return chords_; }
  [[nodiscard]] double chord_east(size_t k) const { return east_[kFirstChord + k]; }
  [[nodiscard]] double chord_north(size_t k) const { return north_[kFirstChord + k]; }
  [[nodiscard]] double chord_covariance(size_t a, size_t b) const {
    return at(kFirstChord + a, kFirstChord + b);
  }

 private:
  static constexpr size_t kM = 0, kD = 1, kP = 2, kFirstChord = 3;
  static constexpr size_t kMostStates = kFirstChord + kMostChords + 2;

  [[nodiscard]] double& at(size_t i, size_t j) {
    return i >= j ? covariance_[i][j] : covariance_[j][i];
  }
  [[nodiscard]] double at(size_t i, size_t j) const {
    return i >= j ? covariance_[i][j] : covariance_[j][i];
  }
  void decay(size_t state, double keep, double sd);
  void move(const RollFade& fade);
  void renew(size_t state, double sd);
  bool observe(size_t one, size_t two, double east, double north, double variance, bool gated);

  RollNoise noise_;
  double covariance_[kMostStates][kMostStates] = {};  // Lower triangle.
  std::array<double, kMostStates> east_{}, north_{};
  size_t size_ = kFirstChord, chords_ = 0;
  bool moving_ = false, counted_ = false;
  RollMotion motion_ = RollMotion::kStarting;
  int positions_off_ = 0, velocities_off_ = 0;  // Set aside in a row.
  double log_sum_ = 0.0,
         product_ = 1.0;  // -log likelihood; part of it as a product not yet logged.
};

}  // namespace fairlead::physics
