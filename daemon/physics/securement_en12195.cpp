#include "daemon/physics/securement_en12195.h"

#include <initializer_list>
#include <numbers>
#include <utility>

#include "daemon/physics/angles.h"

namespace fairlead::physics {
namespace {

constexpr Interval kAngle{0, 90}, kFriction{0, 1}, kMass{0, 1e7}, kForceN{0, 1e8};

struct EditionFactors {
  double transmission, friction_share, safety;
};
EditionFactors factors(Edition edition, Force force) {
  if (edition == Edition::k2003) return {1.5, kDynamicShare2003, 1};
  return {2, 1, friction_safety(force)};
}

// What is left of the force after friction, per kg of load.
double left_per_kg(double c, double mu) { return std::max(0.0, c - mu) * kGravityEn; }

double lashings(double mass, double mu, double sine, double pretension, double c,
                const EditionFactors& f) {
  const double need = mass * left_per_kg(c, mu) * f.safety;
  if (need == 0) return 0;
  const double each = f.transmission * mu * sine * pretension;
  return each > 0 ? need / each : kNoBound;
}

double whole(double number) { return std::isinf(number) ? number : std::ceil(number - 1e-9); }

Status check_all(
    std::initializer_list<std::pair<std::string_view, std::pair<Interval, Interval>>> inputs) {
  for (const auto& [name, input] : inputs) {
    if (auto ok = check_input(name, input.first, input.second); !ok) return ok;
  }
  return {};
}

}  // namespace

Result<LashingNeed> over_top_lashings(const OverTop& load, Force force, Edition edition) {
  if (auto ok = check_all({{"mass_kg", {load.mass_kg, kMass}},
                           {"friction", {load.friction, kFriction}},
                           {"to_deck_deg", {load.to_deck_deg, kAngle}},
                           {"pretension_n", {load.pretension_n, kForceN}}});
      !ok)
    return std::unexpected(ok.error());
  const EditionFactors f = factors(edition, force);
  const Interval number = over_corners(
      [&](double m, double mu, double sine, double tension) {
        return lashings(m, f.friction_share * mu, sine, tension, coefficient(force), f);
      },
      load.mass_kg, load.friction, sin_over(load.to_deck_deg), load.pretension_n);
  return LashingNeed{number, {whole(number.lo), whole(number.hi)}, word_of(edition)};
}

Result<Interval> mass_per_over_top_kg(Interval friction, Interval to_deck_deg,
                                      Interval pretension_n, Force force, Edition edition) {
  if (auto ok = check_all({{"friction", {friction, kFriction}},
                           {"to_deck_deg", {to_deck_deg, kAngle}},
                           {"pretension_n", {pretension_n, kForceN}}});
      !ok)
    return std::unexpected(ok.error());
  const EditionFactors f = factors(edition, force);
  return over_corners(
      [&](double mu, double sine, double tension) {
        const double left = left_per_kg(coefficient(force), f.friction_share * mu) * f.safety;
        if (left == 0) return kNoBound;
        return f.transmission * f.friction_share * mu * sine * tension / left;
      },
      friction, sin_over(to_deck_deg), pretension_n);
}

Result<std::vector<Check>> check_pretension(Interval pretension_n, Interval capacity_n) {
  if (auto ok = check_all({{"pretension_n", {pretension_n, {0, kNoBound}}},
                           {"capacity_n", {capacity_n, {0, kNoBound}}}});
      !ok)
    return std::unexpected(ok.error());
  const std::string origin = "EN 12195-1, 0.1 LC to 0.5 LC";
  return std::vector{
      from(at_least("pretension", "N", pretension_n, 0.1 * capacity_n), origin, Standing::kMemory),
      from(at_most("pretension", "N", pretension_n, 0.5 * capacity_n), origin, Standing::kMemory)};
}

Result<Check> check_direct_lashing(const Diagonal& load, Interval capacity_n, Force force,
                                   Edition edition) {
  if (auto ok = check_all({{"mass_kg", {load.mass_kg, kMass}},
                           {"friction", {load.friction, kFriction}},
                           {"to_deck_deg", {load.to_deck_deg, kAngle}},
                           {"to_force_deg", {load.to_force_deg, kAngle}},
                           {"capacity_n", {capacity_n, {0, kNoBound}}},
                           {"effective", {exactly(load.effective), {1, 64}}}});
      !ok)
    return std::unexpected(ok.error());
  const double share = edition == Edition::k2003 ? kDynamicShare2003 : kDynamicShareDirect;
  const double c = coefficient(force);
  const auto force_n = [&](double mass, double mu, double to_deck, double along) {
    const double need = mass * left_per_kg(c, share * mu);
    if (need == 0) return 0.0;
    const double each = cos_deg(to_deck) * along + share * mu * sin_deg(to_deck);
    return each > 0 ? need / (load.effective * each) : kNoBound;
  };
  const Interval along = cos_over(load.to_force_deg);
  Interval each_n = over_corners(force_n, load.mass_kg, load.friction, load.to_deck_deg, along);
  // Over the angle to the deck the force has one least value inside, where tan a = mu / cos b; it
  // can only lower the lower end, and the corners hold the upper.
  for (const double mu : {load.friction.lo, load.friction.hi}) {
    for (const double b : {along.lo, along.hi}) {
      const double best = std::atan2(share * mu, b) * 180 / std::numbers::pi;
      if (best > load.to_deck_deg.lo && best < load.to_deck_deg.hi)
        each_n.lo = std::min(each_n.lo, force_n(load.mass_kg.lo, mu, best, b));
    }
  }
  return from(at_most("force in each direct lashing", "N", each_n, capacity_n),
              std::string(word_of(edition)) + ", direct lashing", Standing::kMemory);
}

Result<Interval> vdi_total_pretension_n(Interval weight_n, double c, Interval friction,
                                        double transmission, Interval to_deck_deg) {
  if (auto ok = check_all({{"weight_n", {weight_n, kForceN}},
                           {"c", {exactly(c), {0, 2}}},
                           {"friction", {friction, kFriction}},
                           {"transmission", {exactly(transmission), {1, 2}}},
                           {"to_deck_deg", {to_deck_deg, kAngle}}});
      !ok)
    return std::unexpected(ok.error());
  return over_corners(
      [&](double weight, double mu, double sine) {
        const double need = weight * std::max(0.0, c - mu);
        if (need == 0) return 0.0;
        const double each = mu * transmission * sine;
        return each > 0 ? need / each : kNoBound;
      },
      weight_n, friction, sin_over(to_deck_deg));
}

Result<Check> check_tilting_unlashed(Interval b_m, Interval h_m, Force force) {
  if (auto ok = check_all({{"b_m", {b_m, {0, 100}}}, {"h_m", {h_m, {1e-3, 100}}}}); !ok)
    return std::unexpected(ok.error());
  return from(at_least("distance to the tilting edge over height of the centre of gravity", "ratio",
                       b_m / h_m, exactly(coefficient(force))),
              "EN 12195-1, stability without lashing", Standing::kMemory);
}

}  // namespace fairlead::physics
