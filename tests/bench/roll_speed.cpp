#include "tests/bench/roll_speed.h"

#include <algorithm>
#include <cmath>

#include "daemon/judge/rest_scatter.h"
#include "daemon/judge/shared_risk.h"
#include "daemon/physics/speed_along.h"

namespace fairlead::bench {
namespace {

constexpr int64_t kMeanUs = 1'000'000;
constexpr int64_t kTauUs = 1'500'000;  // Of the errors: vocabulary of vehicle.speed, as is ...
constexpr double kDefaultSd = 0.2;     // ... the s.d. of a receiver that states none.
constexpr double kTwoSided = 1.96;     // 95 %.
constexpr double kOneSided = 1.645;

// Mean over the readings of [from, from + 1 s).
struct Mean {
  int readings = 0;
  double found = 0, most = 0, true_speed = 0, length = 0;
};

Mean mean_of(const RollRun& run, const std::vector<std::optional<double>>& along, int64_t from_us) {
  Mean mean;
  for (size_t i = 0; i < run.fixes.size(); ++i) {
    const physics::TagFix& fix = run.fixes[i];
    if (fix.time_us < from_us || fix.time_us >= from_us + kMeanUs || !along[i]) continue;
    ++mean.readings;
    const double length = std::hypot(*fix.east_mps, *fix.north_mps);
    mean.found += *along[i];
    mean.most += *along[i] < 0 ? *along[i] : length;
    mean.true_speed += run.speeds_mps[i];
    mean.length += length;
  }
  for (double* sum : {&mean.found, &mean.most, &mean.true_speed, &mean.length})
    *sum /= std::max(1, mean.readings);
  return mean;
}

// s.d. of the readings where the line does not pull, m/s; 0 where there are too few.
double seen_at_rest(const RollRun& run) {
  judge::RestScatter scatter;
  for (const physics::TagFix& fix : run.fixes) {
    const bool rests = std::ranges::none_of(run.pulls, [&](const physics::TagPull& pull) {
      return fix.time_us > pull.from_us - judge::kRestGuardUs &&
             fix.time_us < pull.to_us + judge::kRestGuardUs;
    });
    if (rests)
      scatter.add(fix.time_us, std::llround(std::hypot(*fix.east_mps, *fix.north_mps) * 1000));
  }
  const int64_t ends_us = run.fixes.back().time_us;
  return static_cast<double>(scatter.sd_milli(0, ends_us).value_or(0)) / 1e6;
}

struct Pull {
  int means = 0;
  bool stated = false, by_default = false;  // Accused.
  double fastest = 0, highest = 0;          // True; and the highest that one found may be.
};

Pull add_pull(SpeedSums& sums, const RollRun& run, const std::vector<std::optional<double>>& along,
              double seen_mps, const physics::TagPull& pull) {
  Pull out;
  const double stated = std::max(run.speed_sd_mps, seen_mps),
               by_default = std::max(kDefaultSd, seen_mps);
  const double z =
      static_cast<double>(judge::shared_risk_z_micro(pull.to_us - pull.from_us, kTauUs)) / 1e6;
  for (int64_t from = pull.from_us; from + kMeanUs <= pull.to_us; from += kMeanUs) {
    const Mean mean = mean_of(run, along, from);
    if (mean.readings == 0) continue;
    const double off = mean.found - mean.true_speed;
    ++sums.means;
    ++out.means;
    sums.off += off;
    sums.square += off * off;
    sums.length_off += mean.length - mean.true_speed;
    sums.covered_stated += std::abs(off) <= kTwoSided * run.speed_sd_mps;
    sums.covered_default += std::abs(off) <= kTwoSided * kDefaultSd;
    out.stated = out.stated || off > z * stated;
    out.by_default = out.by_default || off > z * by_default;
    out.fastest = std::max(out.fastest, mean.true_speed);
    out.highest = std::max(out.highest, mean.most + kOneSided * stated);
  }
  return out;
}

void add_job(SpeedSums& sums, const RollRun& run) {
  std::vector<physics::VelocityReading> readings;
  for (const physics::TagFix& fix : run.fixes)
    readings.push_back({fix.time_us, *fix.east_mps, *fix.north_mps});
  const auto along = physics::speeds_along(readings);
  const double seen_mps = seen_at_rest(run);
  bool stated = false, by_default = false;
  for (const physics::TagPull& pull : run.pulls) {
    const Pull one = add_pull(sums, run, along, seen_mps, pull);
    if (one.means == 0) continue;  // All of it in a hole.
    ++sums.pulls;
    sums.pulls_accused += one.stated;
    sums.pulls_cleared += one.highest <= one.fastest;
    stated = stated || one.stated;
    by_default = by_default || one.by_default;
  }
  ++sums.jobs;
  sums.accused_stated += stated;
  sums.accused_default += by_default;
}

}  // namespace

SpeedSums run_speeds(const Stratum& stratum, size_t index, int runs, uint64_t first_seed) {
  SpeedSums sums;
  for (int i = 0; i < runs; ++i)
    add_job(sums, simulate(stratum.what, seed_of(index, i, first_seed)));
  return sums;
}

}  // namespace fairlead::bench
