#include "tests/bench/roll_strata.h"

#include <algorithm>

#include "tests/bench/measure.h"

namespace fairlead::bench {
namespace {

constexpr RollCase kCentre{};
constexpr double kGuard = 3.0;  // s, of who sums speed without knowing how late the line is.

std::vector<Stratum> made() {
  std::vector<Stratum> strata;
  const auto add = [&](const char* name, bool in_model, auto change) -> Stratum& {
    strata.push_back({name, kCentre, in_model, {}});
    change(strata.back().what);
    return strata.back();
  };
  // The plan: one factor at a time around the centre.
  add("centre", true, [](RollCase&) {});
  add("drawn", true, [](RollCase& c) { c.noise_drawn = true; });
  add("limit", true, [](RollCase& c) { c.noise_drawn = true, c.length_m = 3, c.length_to_m = 17; });
  add("rate-5", true, [](RollCase& c) { c.rate_hz = 5; });
  add("rate-10", true, [](RollCase& c) { c.rate_hz = 10; });
  add("length-2", true, [](RollCase& c) { c.length_m = 2; });
  add("length-5", true, [](RollCase& c) { c.length_m = 5; });
  add("length-10", true, [](RollCase& c) { c.length_m = 10; });
  add("length-12", true, [](RollCase& c) { c.length_m = 12; });
  add("length-15", true, [](RollCase& c) { c.length_m = 15; });
  add("tau-m-10", true, [](RollCase& c) { c.tau_m = 10; });
  add("tau-m-300", true, [](RollCase& c) { c.tau_m = 300; });
  add("tau-m-600", true, [](RollCase& c) { c.tau_m = 600; });
  add("doppler-0.05", true, [](RollCase& c) { c.sd_d = 0.05; });
  add("doppler-0.2", true, [](RollCase& c) { c.sd_d = 0.2; });
  add("tau-d-0.5", true, [](RollCase& c) { c.tau_d = 0.5; });
  add("tau-d-8", true, [](RollCase& c) { c.tau_d = 8; });
  add("pulls-1", true, [](RollCase& c) { c.pulls = 1; });
  add("pulls-4", true, [](RollCase& c) { c.pulls = 4; });
  add("hole-5", true, [](RollCase& c) { c.hole_s = 5; });
  add("hole-15", true, [](RollCase& c) { c.hole_s = 15; });
  add("turn-30", true, [](RollCase& c) { c.turn_deg = 30; });
  add("turn-60", false, [](RollCase& c) { c.turn_deg = 60; });
  add("turn-60-allowed", false, [](RollCase& c) { c.turn_deg = 60; }).allowance.turn_deg = 60;
  add("latency-1", true, [](RollCase& c) { c.latency_s = 1; });
  add("latency-3", false, [](RollCase& c) { c.latency_s = 3; });
  // Beyond the plan: a slow winch, a line that is taut before and after the car moves.
  add("slow", true, [](RollCase& c) { c.speed_mps = 0.15; });
  add("slow-drawn", true, [](RollCase& c) { c.speed_mps = 0.15, c.noise_drawn = true; });
  add("taut", true, [](RollCase& c) { c.taut_s = 3; });
  add("taut-drawn", true, [](RollCase& c) { c.taut_s = 3, c.noise_drawn = true; });
  add("taut-slow", true, [](RollCase& c) { c.taut_s = 3, c.speed_mps = 0.15; });
  add("worst-doppler", true, [](RollCase& c) { c.sd_d = 0.15, c.tau_d = 20; });
  // Outside the model.
  add("creep", false, [](RollCase& c) { c.creep_mps = 0.1, c.creep_s = 8; });
  add("student-4", false, [](RollCase& c) { c.student = true; });
  add("jumps", false, [](RollCase& c) { c.jumps = 0.02; });
  add("steps", false, [](RollCase& c) { c.steps = 3; });
  // Starts and stops that the estimator was not tuned on. (New strata go to the end: the seeds of a
  // row are its place.)
  add("soft", true, [](RollCase& c) { c.ramp_s = 4; });
  add("sharp", true, [](RollCase& c) { c.ramp_s = 0.3; });
  add("fast", true, [](RollCase& c) { c.speed_mps = 1, c.length_m = 12; });
  add("fast-soft", true, [](RollCase& c) { c.speed_mps = 1, c.length_m = 12, c.ramp_s = 4; });
  return strata;
}

void add_rank(StratumSums& sums, double rank) {
  sums.bare_below += rank < 0.025;
  sums.bare_above += rank > 0.975;
  ++sums.ranks[std::min(kRanks - 1, static_cast<size_t>(std::max(0.0, rank * kRanks)))];
}

void add_baselines(StratumSums& sums, const RollRun& run) {
  const Baselines base = baselines(run, kGuard);
  const auto square = [&](double found) { return (found - run.truth_m) * (found - run.truth_m); };
  sums.sum_square += square(base.sum_of_fixes);
  sums.net_square += square(base.net);
  sums.gated_square += square(base.gated_speed);
  sums.guarded_square += square(base.guarded_speed);
  sums.vector_square += square(base.vector_doppler);
}

void add_run(StratumSums& sums, const RollRun& run, const physics::TagAllowance& allowance) {
  ++sums.runs;
  const Stopwatch watch;
  const auto posterior = physics::tag_posterior(run.fixes, run.pulls, allowance);
  if (!posterior) {
    ++sums.unsolved;
    return;
  }
  const physics::TagWay way = physics::way_of(*posterior, allowance);
  sums.cpu_s += watch.cpu_s();
  const double lo = static_cast<double>(way.lo_mm) / 1000,
               best = static_cast<double>(way.best_mm) / 1000,
               hi = static_cast<double>(way.hi_mm) / 1000, off = best - run.truth_m;
  const bool below = run.truth_m<lo, above = run.truth_m> hi;
  sums.truth_below += below;
  sums.truth_above += above;
  sums.off += off;
  sums.square += off * off;
  sums.width += (hi - lo) / 2;
  const bool inside = run.truth_m < kLimitM, met = hi<kLimitM, deviated = lo> kLimitM;
  (inside ? sums.inside : sums.outside) += 1;
  sums.deviated_inside += inside && deviated;
  sums.met_outside += !inside && met;
  sums.undecided += !met && !deviated;
  if (run.truth_m >= 9 && run.truth_m <= 11) {
    ++sums.near;
    sums.near_covered += !below && !above;
  }
  add_rank(sums, posterior->share_below(run.truth_m));
  add_baselines(sums, run);
}

}  // namespace

std::span<const Stratum> roll_strata() {
  static const std::vector<Stratum> kStrata = made();
  return kStrata;
}

StratumSums run_stratum(const Stratum& stratum, size_t index, int runs, uint64_t first_seed) {
  StratumSums sums;
  for (int i = 0; i < runs; ++i)
    add_run(sums, simulate(stratum.what, seed_of(index, i, first_seed)), stratum.allowance);
  return sums;
}

}  // namespace fairlead::bench
