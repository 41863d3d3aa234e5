// Speed of a car along its way: the component of each velocity reading along the mean of the
// readings within 5 s either side. The length of a noisy velocity is longer than the true one; its
// component along the way is not, and it is negative when the car goes back. Where the readings
// around say little of the way (a short pull, a turn), the component falls short; the length never
// does, so it is the upper end.
//
// Units: m/s, metres east and north. Threads: pure function. Bits: + - * / sqrt.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace fairlead::physics {

struct VelocityReading {
  int64_t time_us = 0;
  double east_mps = 0, north_mps = 0;
};

/// One a reading, in order of time; nullopt with fewer than 3 readings around, or where they
/// cancel.
[[nodiscard]] std::vector<std::optional<double>> speeds_along(
    std::span<const VelocityReading> readings);

}  // namespace fairlead::physics
