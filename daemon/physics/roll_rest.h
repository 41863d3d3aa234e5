// What the velocities of a standing car say of their noise: Ornstein-Uhlenbeck error + white, both
// axes alike. It is what RollFilter does with them (but that it counts the reading that tells a
// step once, not twice), and nothing else: so cheap that it can tell for a whole grid which noises
// are worth a filter.
//
// Units: m/s, seconds. Threads: values only. Bits: + - * / sqrt, the same on every build.
#pragma once

#include "daemon/physics/roll_filter.h"

namespace fairlead::physics {

class RestVelocities {
 public:
  explicit RestVelocities(const RollNoise& noise);

  /// `keep`: exp(-dt / tau_d).
  void advance(double keep);
  /// Set aside beyond 4 s.d.; the third in a row is a step, with which the error starts anew.
  void observe(double east, double north);
  [[nodiscard]] double log_likelihood() const;

 private:
  double own_, white_;  // Variances.
  double variance_, east_ = 0.0, north_ = 0.0;
  int off_ = 0;
  double log_sum_ = 0.0, product_ = 1.0;
};

}  // namespace fairlead::physics
