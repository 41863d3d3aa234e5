// Where a simulated vehicle is: speed and course of a profile integrated from an origin, and what a
// receiver with seeded noise makes of it. Errors of position drift (first-order Gauss-Markov, the
// usual model of a GNSS error) instead of jumping, those of speed are white.
//
// Threads: one. Units: SI, degrees for angles.
#pragma once

#include <cstdint>
#include <random>
#include <utility>

#include "clients/sim/nmea.h"
#include "clients/sim/profile.h"

namespace fairlead::sim {

struct Noise {
  uint64_t seed = 1;
  double position_sd_m = 0;  // Per axis.
  double position_tau_s = 30;
  double speed_sd_mps = 0;
};

class Track {
 public:
  /// Names of the profile: speed (m/s), course (deg true, 0 where absent).
  Track(Profile profile, double origin_lat_deg, double origin_lon_deg, Noise noise);

  /// The vehicle itself at this time of the profile. Times must not go back.
  std::pair<double, double> truth_m(double seconds);
  /// What the receiver says; `time_us` is put in as it stands.
  Epoch epoch(double seconds, int64_t time_us);

 private:
  Profile profile_;
  double lat_deg_, lon_deg_;
  Noise noise_;
  std::mt19937_64 random_;
  double at_s_ = 0, north_m_ = 0, east_m_ = 0;
  double noise_at_s_ = 0, north_error_m_ = 0, east_error_m_ = 0;
  bool started_ = false;
};

}  // namespace fairlead::sim
