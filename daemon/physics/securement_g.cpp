#include "daemon/physics/securement_g.h"

#include <algorithm>

#include "daemon/physics/angles.h"

namespace fairlead::physics {
namespace {

// In plan, where a leg pulls that resists a movement in that direction.
double resisting_bearing(Direction direction) {
  switch (direction) {
    case Direction::kForward:
      return 180;
    case Direction::kRearward:
      return 0;
    case Direction::kLeft:
      return -90;
    case Direction::kRight:
      return 90;
  }
  return 0;
}

Interval positive(const Interval& x) { return {std::max(0.0, x.lo), std::max(0.0, x.hi)}; }

Interval along(const Leg& leg, Direction direction) {
  const Interval off = leg.to_front_deg - exactly(resisting_bearing(direction));
  return positive(cos_over(leg.to_deck_deg) * positive(cos_over(off)));
}

Status check_restraint(const Restraint& restraint) {
  if (auto ok = check_input("limit_n", restraint.limit_n, {0, kNoBound}); !ok) return ok;
  if (auto ok = check_input("pretension_n", restraint.pretension_n, {0, 1e7}); !ok) return ok;
  for (const Leg& leg : restraint.legs) {
    if (auto ok = check_input("to_deck_deg", leg.to_deck_deg, {0, 90}); !ok) return ok;
    if (auto ok = check_input("to_front_deg", leg.to_front_deg, {-720, 720}); !ok) return ok;
  }
  return {};
}

// In newtons: what holds against the movement, without the friction of the load's own weight.
Interval held_n(std::span<const Restraint> restraints, Direction direction,
                const Interval& friction) {
  Interval sum = exactly(0);
  for (const Restraint& one : restraints) {
    for (const Leg& leg : one.legs) {
      const Interval down = sin_over(leg.to_deck_deg);
      if (one.over_the_top) {
        sum += one.pretension_n * friction * down;
        continue;
      }
      const Interval part = along(leg, direction);
      // Friction of a leg that slackens is not there; where it surely pulls, it is.
      const Interval rubs = part.lo > 0 ? friction * down : Interval{0, friction.hi * down.hi};
      sum += one.limit_n * (part.hi > 0 ? part + rubs : exactly(0));
    }
  }
  return sum;
}

}  // namespace

Result<GCapacity> g_capacity(std::span<const Restraint> restraints, Interval mass_kg,
                             Interval friction) {
  if (auto ok = check_input("mass_kg", mass_kg, {1e-3, 1e7}); !ok)
    return std::unexpected(ok.error());
  if (auto ok = check_input("friction", friction, {0, 2}); !ok) return std::unexpected(ok.error());
  Interval down_n = exactly(0);
  for (const Restraint& one : restraints) {
    if (auto ok = check_restraint(one); !ok) return std::unexpected(ok.error());
    for (const Leg& leg : one.legs)
      down_n += (one.over_the_top ? one.pretension_n : one.limit_n) * sin_over(leg.to_deck_deg);
  }
  const Interval weight_n = kStandardGravity * mass_kg;
  const auto in = [&](Direction direction) {
    return held_n(restraints, direction, friction) / weight_n + friction;
  };
  return GCapacity{in(Direction::kForward), in(Direction::kRearward), in(Direction::kLeft),
                   in(Direction::kRight), down_n / weight_n};
}

std::vector<Check> check_g(const GCapacity& capacity, const GNeed& need) {
  const std::string origin(need.origin);
  std::vector<Check> checks;
  const auto add = [&](const std::string& what, const Interval& have, double least,
                       const std::string& rule) {
    checks.push_back(from(at_least(what, "g", have, exactly(least)), rule, Standing::kPublished));
  };
  add("held against moving forward", capacity.forward, need.forward, origin);
  add("held against moving rearward", capacity.rearward, need.rearward, origin);
  add("held against moving left", capacity.left, need.sideways, origin);
  add("held against moving right", capacity.right, need.sideways, origin);
  add("held down", capacity.down, kDownwardShare, "49 CFR 393.102(b)");
  return checks;
}

std::vector<double> shares_at(std::span<const Restraint> restraints,
                              std::span<const double> length_m, Direction direction,
                              double force_n) {
  std::vector<double> stiff(restraints.size(), 0), tension(restraints.size(), 0);
  double all = 0;
  for (size_t i = 0; i < restraints.size() && i < length_m.size(); ++i) {
    if (restraints[i].over_the_top || !(length_m[i] > 0)) continue;
    double pulls = 0;
    for (const Leg& leg : restraints[i].legs) {
      const Interval part = along(leg, direction);
      pulls += (part.lo + part.hi) / 2;
    }
    stiff[i] = pulls / length_m[i];
    all += stiff[i] * pulls;
  }
  for (size_t i = 0; i < tension.size() && all > 0; ++i) tension[i] = force_n * stiff[i] / all;
  return tension;
}

}  // namespace fairlead::physics
