#include "tests/bench/roll_sim.h"

#include <algorithm>

namespace fairlead::bench {
namespace {

constexpr double kPi = 3.14159265358979323846;
constexpr double kJump = 10.0;

// Ornstein-Uhlenbeck noise on both axes, stationary from the start.
class Coloured {
 public:
  Coloured(Random& random, double sd, double tau_s) : random_(random), sd_(sd), tau_(tau_s) {
    renew();
  }
  void renew() {
    for (double& axis : now) axis = sd_ * random_.normal();
  }
  void advance(double dt) {
    const double keep = std::exp(-dt / tau_);
    for (double& axis : now)
      axis = keep * axis + sd_ * std::sqrt(1.0 - keep * keep) * random_.normal();
  }
  double now[2];

 private:
  Random& random_;
  double sd_, tau_;
};

// One stretch of motion along an arc: ramps up, runs, ramps down.
struct Motion {
  double from_s = 0, to_s = 0, speed = 0, ramp = 0;
  [[nodiscard]] double speed_at(double t) const {
    if (t <= from_s || t >= to_s) return 0;
    return speed * std::min({1.0, (t - from_s) / ramp, (to_s - t) / ramp});
  }
  [[nodiscard]] double way_at(double t) const {
    const double in = std::clamp(t, from_s, to_s) - from_s, left = to_s - from_s - in;
    const double whole = speed * (to_s - from_s - ramp);
    if (in < ramp) return speed * in * in / (2 * ramp);
    if (left < ramp) return whole - speed * left * left / (2 * ramp);
    return speed * (in - ramp / 2);
  }
};

Motion motion_of(double from_s, double length_m, double speed, double ramp_s) {
  const double ramp = std::min(ramp_s, length_m / speed);
  return {from_s, from_s + length_m / speed + ramp, speed, ramp};
}

// Where the car is after `way` along pulls whose path turns by `turn` each.
struct Place {
  double east = 0, north = 0, heading = 0;
  void go(double way, double length, double turn) {
    const int parts = turn > 0 ? 16 : 1;
    for (int i = 0; i < parts; ++i) {
      const double here = heading + turn * way / length * (i + 0.5) / parts;
      east += way / parts * std::sin(here);
      north += way / parts * std::cos(here);
    }
    heading += turn * way / length;
  }
};

RollCase drawn(RollCase what, Random& random) {
  if (what.length_to_m > what.length_m)
    what.length_m = random.uniform(what.length_m, what.length_to_m);
  if (!what.noise_drawn) return what;
  what.tau_m = random.between_logs(10, 600);
  what.sd_m = random.uniform(1.5, 3.5);
  what.sd_d = random.uniform(0.03, 0.15);
  what.tau_d = random.between_logs(0.5, 10);
  what.white_d = random.uniform(0.04, 0.09);
  return what;
}

}  // namespace

double Random::student4() {
  double square = 0;
  for (int i = 0; i < 4; ++i) {
    const double one = normal();
    square += one * one;
  }
  return normal() / std::sqrt(square / 4.0);
}

RollRun simulate(const RollCase& wanted, uint64_t seed) {
  Random random(seed);
  const RollCase what = drawn(wanted, random);
  const double each_m = what.length_m / what.pulls, turn = what.turn_deg * kPi / 180.0;
  std::vector<Motion> motions;
  double now = what.rest_s + random.uniform(0, 1);
  for (int i = 0; i < what.pulls; ++i) {
    motions.push_back(motion_of(now, each_m, what.speed_mps, what.ramp_s));
    now = motions.back().to_s + what.rest_s;
  }
  RollRun run{.fixes = {},
              .pulls = {},
              .speeds_mps = {},
              .speed_sd_mps = std::hypot(what.sd_d, what.white_d),
              .truth_m = what.length_m};
  for (const Motion& motion : motions) {
    const double from = motion.from_s - what.taut_s * random.uniform(0.6, 1.4),
                 to = motion.to_s + what.taut_s * random.uniform(0.6, 1.4);
    run.pulls.push_back({std::llround((from + what.latency_s) * 1e6),
                         std::llround((to + what.latency_s) * 1e6), true});
  }
  Motion creep;
  if (what.creep_s > 0) {
    const double from = static_cast<double>(run.pulls[0].to_us) / 1e6 + 2;
    creep = {from, from + what.creep_s, what.creep_mps, 0.1};
    run.truth_m += creep.way_at(1e9);
  }
  const double hole_at = (motions[0].from_s + motions[0].to_s) / 2;
  std::vector<double> steps;
  for (int i = 0; i < what.steps; ++i) steps.push_back(random.uniform(0, now));
  std::sort(steps.begin(), steps.end());
  Coloured m(random, what.sd_m, what.tau_m), d(random, what.sd_d, what.tau_d);
  const double heading = random.uniform(0, 2 * kPi);
  const auto white = [&] { return what.student ? random.student4() : random.normal(); };
  size_t stepped = 0;
  const double dt = 1.0 / what.rate_hz;
  for (double t = 0; t <= now; t += dt) {
    if (t > 0) {
      m.advance(dt);
      d.advance(dt);
    }
    for (; stepped < steps.size() && steps[stepped] <= t; ++stepped) m.renew();
    Place place{0, 0, heading};
    double speed = creep.speed_at(t);
    for (size_t i = 0; i < motions.size(); ++i) {
      place.go(motions[i].way_at(t), each_m, turn);
      speed += motions[i].speed_at(t);
      if (i == 0 && what.creep_s > 0) place.go(creep.way_at(t), 1, 0);
    }
    double east = place.east + m.now[0] + what.white_m * white();
    double north = place.north + m.now[1] + what.white_m * white();
    if (what.jumps > 0 && random.uniform(0, 1) < what.jumps) {
      const double way = random.uniform(0, 2 * kPi);
      east += kJump * std::sin(way);
      north += kJump * std::cos(way);
    }
    const double east_mps = speed * std::sin(place.heading) + d.now[0] + what.white_d * white();
    const double north_mps = speed * std::cos(place.heading) + d.now[1] + what.white_d * white();
    if (std::abs(t - hole_at) * 2 < what.hole_s) continue;
    run.speeds_mps.push_back(speed);
    run.fixes.push_back({.time_us = std::llround(t * 1e6),
                         .east_m = east,
                         .north_m = north,
                         .h_sd_m = 2.5,
                         .east_mps = east_mps,
                         .north_mps = north_mps});
  }
  return run;
}

Baselines baselines(const RollRun& run, double guard_s) {
  Baselines out;
  const auto& fixes = run.fixes;
  for (size_t i = 1; i < fixes.size(); ++i) {
    out.sum_of_fixes +=
        std::hypot(fixes[i].east_m - fixes[i - 1].east_m, fixes[i].north_m - fixes[i - 1].north_m);
  }
  out.net = std::hypot(fixes.back().east_m - fixes.front().east_m,
                       fixes.back().north_m - fixes.front().north_m);
  const int64_t guard_us = std::llround(guard_s * 1e6);
  for (const physics::TagPull& pull : run.pulls) {
    double east = 0, north = 0;
    for (size_t i = 1; i < fixes.size(); ++i) {
      const int64_t now_us = fixes[i].time_us;
      if (now_us < pull.from_us - guard_us || now_us >= pull.to_us + guard_us) continue;
      const double dt = static_cast<double>(now_us - fixes[i - 1].time_us) / 1e6;
      const double way = std::hypot(*fixes[i].east_mps, *fixes[i].north_mps) * dt;
      out.guarded_speed += way;
      if (now_us < pull.from_us || now_us >= pull.to_us) continue;
      out.gated_speed += way;
      east += *fixes[i].east_mps * dt;
      north += *fixes[i].north_mps * dt;
    }
    out.vector_doppler += std::hypot(east, north);
  }
  return out;
}

}  // namespace fairlead::bench
