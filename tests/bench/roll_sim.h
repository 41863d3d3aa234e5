// Simulated pulls with a satellite tag on the car: truth, and what the tag and the line say of it.
// Noise is of the family the estimator assumes (Ornstein-Uhlenbeck plus white), unless a case asks
// for tails, jumps or steps. The ranges are those of judged papers named in docs/roll.md; no field
// data is in it.
//
// Units: metres, seconds. Threads: pure function of its arguments.
#pragma once

#include <cmath>
#include <cstdint>
#include <random>
#include <vector>

#include "daemon/physics/roll_tag.h"

namespace fairlead::bench {

class Random {
 public:
  explicit Random(uint64_t seed) : bits_(seed) {}
  double uniform(double from, double to) {
    return from + (to - from) * (static_cast<double>(bits_() >> 11) + 0.5) * 0x1p-53;
  }
  double normal() {  // Box and Muller 1958.
    return std::sqrt(-2.0 * std::log(uniform(0, 1))) *
           std::cos(2.0 * 3.14159265358979323846 * uniform(0, 1));
  }
  double between_logs(double from, double to) {
    return std::exp(uniform(std::log(from), std::log(to)));
  }
  /// Student's t with 4 degrees of freedom.
  double student4();

 private:
  std::mt19937_64 bits_;
};

/// One kind of job. The defaults are the centre that strata vary one factor at a time.
struct RollCase {
  double rate_hz = 1, length_m = 8;
  double length_to_m = 0;  // Above length_m: lengths drawn evenly between the two.
  double speed_mps = 0.37;
  double ramp_s = 1.5;  // To come up to speed, and to stop.
  double rest_s = 27;   // Before, between and after the pulls: 105 s in all.
  double taut_s = 0;    // The line pulls 0.6 to 1.4 times this before and after the car moves.
  int pulls = 2;
  double sd_m = 2.5, tau_m = 60, white_m = 0.5;
  double sd_d = 0.1, tau_d = 2, white_d = 0.06;
  bool noise_drawn = false;  // Per run: tau_m 10-600, sd_m 1.5-3.5, sd_d 0.03-0.15, tau_d 0.5-10.
  double hole_s = 0;         // Without fixes, around the middle of the first pull.
  double turn_deg = 0;       // The path of each pull is an arc of this angle.
  double latency_s = 0;      // The line says on and off this much after the car moves and stands.
  double creep_mps = 0, creep_s = 0;  // 2 s after the line says the first pull ended.
  bool student = false;               // White noise with heavy tails of the same scale.
  double jumps = 0;                   // Share of fixes that lie 10 m off.
  int steps = 0;                      // Times at which the multipath is drawn anew.
};

struct RollRun {
  std::vector<physics::TagFix> fixes;
  std::vector<physics::TagPull> pulls;  // As the line says.
  std::vector<double> speeds_mps;       // True, at each fix.
  double speed_sd_mps = 0;              // Per axis, as a receiver that knows itself would state it.
  double truth_m = 0;
};

[[nodiscard]] RollRun simulate(const RollCase& what, uint64_t seed);

/// Simple ways to the distance, for comparison.
struct Baselines {
  double sum_of_fixes = 0;    // Every fix to the next.
  double net = 0;             // Last fix less first.
  double gated_speed = 0;     // Doppler speed, summed while the line pulls ...
  double guarded_speed = 0;   // ... and the guard either side: who does not know how late it is.
  double vector_doppler = 0;  // Doppler vectors summed per pull, then the length.
};
[[nodiscard]] Baselines baselines(const RollRun& run, double guard_s);

}  // namespace fairlead::bench
