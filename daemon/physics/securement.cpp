#include "daemon/physics/securement.h"

#include <algorithm>
#include <array>
#include <utility>

#include "daemon/physics/securement_en12195.h"
#include "daemon/physics/securement_wll.h"

namespace fairlead::physics {
namespace {

constexpr std::array kNames{std::pair{Jurisdiction::kUnitedStates, std::string_view("us-49cfr")},
                            std::pair{Jurisdiction::kCanada, std::string_view("ca-nsc10")},
                            std::pair{Jurisdiction::kEurope2003, std::string_view("en12195-2003")},
                            std::pair{Jurisdiction::kEurope2010, std::string_view("en12195-2010")}};

bool all_legs_known(const VehicleLoad& load) {
  return std::ranges::none_of(load.tiedowns,
                              [](const PlacedTiedown& one) { return one.tiedown.legs.empty(); });
}

bool breaking_known(const VehicleLoad& load) {
  return std::ranges::any_of(load.tiedowns, [](const PlacedTiedown& one) {
    return std::ranges::any_of(one.tiedown.parts,
                               [](const Part& part) { return part.breaking.has_value(); });
  });
}

Result<std::vector<Check>> forces(const VehicleLoad& load, const GNeed& need,
                                  const Interval& friction,
                                  Strength strength = Strength::kWorking) {
  const double kg = load.unit == WeightUnit::kKg ? 1 : kKgPerLb;
  const auto capacity =
      g_capacity(restraints_of(load.tiedowns, load.unit, strength), kg * load.weight, friction);
  if (!capacity) return std::unexpected(capacity.error());
  return check_g(*capacity, need);
}

Result<std::vector<Check>> check_europe(const VehicleLoad& load, Edition edition) {
  const std::string origin = std::string(word_of(edition)) + ", direct lashing";
  if (!all_legs_known(load)) {
    Check unknown = from(
        at_least("forces on the tiedowns", "g", kUnread, exactly(coefficient(Force::kForward))),
        origin, Standing::kMemory, "the directions of the tiedowns are not known");
    return std::vector{unknown};
  }
  const double share = edition == Edition::k2003 ? kDynamicShare2003 : kDynamicShareDirect;
  const GNeed need{coefficient(Force::kForward), coefficient(Force::kRearward),
                   coefficient(Force::kSideways), origin};
  auto checks = forces(load, need, share * load.friction);
  if (!checks) return checks;
  std::erase_if(*checks, [&](const Check& check) { return check.origin != origin; });
  for (Check& check : *checks) check.standing = Standing::kMemory;
  return checks;
}

}  // namespace

Result<Jurisdiction> jurisdiction_named(std::string_view name) {
  std::string all;
  for (const auto& [jurisdiction, word] : kNames) {
    if (word == name) return jurisdiction;
    all += (all.empty() ? "" : ", ") + std::string(word);
  }
  return fail(Code::kBadInput, fmt::format("'{}' is no jurisdiction; use one of {}", name, all));
}

std::string_view name_of(Jurisdiction jurisdiction) {
  for (const auto& [one, word] : kNames) {
    if (one == jurisdiction) return word;
  }
  return "";
}

std::string_view rules_of(Jurisdiction jurisdiction) {
  switch (jurisdiction) {
    case Jurisdiction::kUnitedStates:
      return "49 CFR 393.100 to .136";
    case Jurisdiction::kCanada:
      return "NSC Standard 10";
    case Jurisdiction::kEurope2003:
      return word_of(Edition::k2003);
    case Jurisdiction::kEurope2010:
      return word_of(Edition::k2010);
  }
  return "";
}

std::vector<Restraint> restraints_of(std::span<const PlacedTiedown> placed, WeightUnit unit,
                                     Strength strength) {
  std::vector<Restraint> restraints;
  for (const PlacedTiedown& one : placed) {
    const Interval wll = weakest_part(one.tiedown).wll;
    Restraint restraint{
        .limit_n = newtons_per(unit) *
                   (strength == Strength::kWorking ? wll : breaking_strength(one.tiedown)),
        .legs = one.tiedown.legs,
        .over_the_top = one.tiedown.path == Path::kAcross,
        .pretension_n = exactly(0)};
    // Drawn to half its limit at most; how far nobody measured.
    if (restraint.over_the_top && !std::isinf(wll.hi))
      restraint.pretension_n = {0, 0.5 * newtons_per(unit) * wll.hi};
    restraints.push_back(restraint);
  }
  return restraints;
}

Result<std::vector<Check>> check_securement(const VehicleLoad& load, Jurisdiction jurisdiction) {
  if (auto ok = check_input("friction", load.friction, {0, 2}); !ok)
    return std::unexpected(ok.error());
  if (jurisdiction == Jurisdiction::kEurope2003) return check_europe(load, Edition::k2003);
  if (jurisdiction == Jurisdiction::kEurope2010) return check_europe(load, Edition::k2010);
  std::vector<Tiedown> tiedowns;
  for (const PlacedTiedown& one : load.tiedowns) tiedowns.push_back(one.tiedown);
  auto aggregate = check_aggregate(tiedowns, load.weight, load.unit);
  if (!aggregate) return std::unexpected(aggregate.error());
  std::vector<Check> checks{*aggregate};
  if (jurisdiction == Jurisdiction::kCanada) {
    checks[0].origin = "NSC Standard 10, half a limit for each end on an anchor";
    return checks;
  }
  const auto counts = check_vehicle_count(load.tiedowns, load.weight, load.unit, load.count);
  if (!counts) return std::unexpected(counts.error());
  checks.insert(checks.end(), counts->begin(), counts->end());
  if (load.tiedowns.empty() || !all_legs_known(load)) return checks;
  auto held = forces(load, kWorkingNeed, load.friction);
  if (!held) return held;
  if (breaking_known(load)) {
    const auto break_at = forces(load, kBreakingNeed, load.friction, Strength::kBreaking);
    if (!break_at) return break_at;
    held->insert(held->end(), break_at->begin(), break_at->end() - 1);  // (b) stands already.
  }
  const bool deemed_met = worst_of(checks) == Verdict::kMet;
  for (Check& check : *held) {
    check.decides = !deemed_met;
    if (deemed_met) check.words = "deemed met by the other rules, 49 CFR 393.102(c)";
  }
  checks.insert(checks.end(), held->begin(), held->end());
  return checks;
}

}  // namespace fairlead::physics
