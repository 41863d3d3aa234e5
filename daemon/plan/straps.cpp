// Which tiedowns, where, and which way they pull.
#include <algorithm>
#include <array>
#include <cmath>
#include <functional>

#include "daemon/plan/gear.h"

namespace fairlead::plan {
namespace {

constexpr size_t kLeastPieces = 4;  // Two in front and two behind.
constexpr size_t kMostTried = 16;   // Pieces a set is looked for among.
constexpr double kMostEachKg = 100'000;
constexpr double kLightVehicleKg = physics::light_vehicle_limit(physics::WeightUnit::kKg);

// A piece whose id ends in a wheel's name goes to that wheel, the others where there is room.
void order_by_wheel(std::vector<Piece>& pieces) {
  for (size_t at = 0; at < std::min(kLeastPieces, pieces.size()); ++at) {
    const auto named = std::find_if(
        pieces.begin() + static_cast<std::ptrdiff_t>(at), pieces.end(),
        [&](const Piece& piece) { return piece.item->text.id().ends_with("-" + wheel_of(at)); });
    if (named != pieces.end())
      std::iter_swap(pieces.begin() + static_cast<std::ptrdiff_t>(at), named);
  }
}

// Chooses `left` more pieces from `from` on; keeps the set with the least sum that is enough.
struct Search {
  const std::vector<Piece>& pieces;
  std::function<bool(const std::vector<size_t>&, double sum)> enough;
  std::vector<size_t> chosen{}, best{};
  double best_sum = physics::kNoBound;

  void choose(size_t from, size_t left, double sum) {
    if (sum >= best_sum) return;
    if (left == 0) {
      if (!enough(chosen, sum)) return;
      best = chosen;
      best_sum = sum;
      return;
    }
    for (size_t i = from; i + left <= pieces.size(); ++i) {
      chosen.push_back(i);
      choose(i + 1, left - 1, sum + pieces[i].wll_kg.lo);
      chosen.pop_back();
    }
  }
};

// Where a piece at that wheel pulls; nothing where that is not known.
Result<std::vector<physics::Leg>> legs_at(const std::string& wheel, physics::Path path,
                                          const Numbers& n) {
  if (!n.strap_way) return std::vector<physics::Leg>{};
  const auto side = wheel[0] == 'L' ? physics::Side::kLeft : physics::Side::kRight;
  auto both = physics::wheel_strap_legs(*n.strap_way, side);
  if (!both || path == physics::Path::kSameSide) return both;
  if (path == physics::Path::kAcross)
    return std::vector<physics::Leg>{{n.strap_way->to_deck_deg, physics::exactly(90)},
                                     {n.strap_way->to_deck_deg, physics::exactly(-90)}};
  // Direct: away from the car's middle, whichever end of it stands in front.
  const bool ahead = (wheel[1] == 'F') != n.tail_first;
  return std::vector<physics::Leg>{ahead ? (*both)[0] : (*both)[1]};
}

physics::PlacedTiedown placed_piece(const Piece& piece, const std::string& wheel,
                                    physics::Path path) {
  const std::string name = piece.item == nullptr ? "strap" : piece.item->text.id();
  physics::Part part{.name = name, .wll = piece.wll_kg, .counts = piece.counts, .why = ""};
  if (piece.item != nullptr) {
    part.wll = rating_kg(*piece.item);
    part.why = piece.item->text.defect();
    if (const auto kg = figure(piece.item->text.breaking(), Dimension::kMass))
      part.breaking = physics::exactly(*kg);
  }
  physics::PlacedTiedown out;
  out.tiedown.name = name;
  out.tiedown.parts = {part};
  if (piece.anchor_kg)
    out.tiedown.anchor = physics::Part{.name = "its anchor", .wll = *piece.anchor_kg, .why = ""};
  out.tiedown.path = path;
  out.end = wheel[1] == 'F' ? physics::End::kFront : physics::End::kRear;
  return out;
}

// By the rules in force, with the least figures of everything.
bool enough_by_rules(const StrapSet& set, const Numbers& n) {
  if (!std::isfinite(n.mass_kg.hi)) return false;
  const auto tiedowns = placed(set, n);
  if (!tiedowns) return false;
  const auto checks = physics::check_securement(
      {.weight = n.mass_kg, .tiedowns = *tiedowns, .count = n.count, .friction = n.friction},
      n.rules);
  return checks && physics::worst_of(*checks) == Verdict::kMet;
}

// Rating of four alike, of sound straps on anchors no weaker, that the rules accept. A stronger
// strap never holds less, so halving finds it.
std::optional<double> least_each(physics::Path path, const Numbers& n) {
  const auto would_do = [&](double kg) {
    StrapSet four{.pieces = {}, .path = path};
    four.pieces.assign(kLeastPieces, Piece{.item = nullptr, .wll_kg = physics::exactly(kg)});
    return enough_by_rules(four, n);
  };
  if (!would_do(kMostEachKg)) return std::nullopt;
  double lo = 0, hi = kMostEachKg;
  for (int i = 0; i < 60; ++i) {
    const double middle = (lo + hi) / 2;
    (would_do(middle) ? hi : lo) = middle;
  }
  return hi;
}

}  // namespace

StrapSet smallest_strap_set(const GearBag& bag, const Numbers& n, physics::Path path) {
  StrapSet set{.pieces = {}, .path = path};
  set.least_each_kg = least_each(path, n);
  std::vector<Piece> usable;
  const bool heavy =
      n.rules == physics::Jurisdiction::kUnitedStates && n.mass_kg.hi > kLightVehicleKg;
  const double least_kg = heavy ? physics::heavy_tiedown_wll(physics::WeightUnit::kKg) : 0;
  for (const Piece& piece : bag.tiedowns)
    if (piece.wll_kg.lo >= least_kg) usable.push_back(piece);
  // The strongest ones, where there are more than can be looked through; they stay weakest first.
  if (usable.size() > kMostTried) usable.erase(usable.begin(), usable.end() - kMostTried);
  const double needed_kg = physics::kShareOfWeight * n.mass_kg.hi;
  const auto of = [&](const std::vector<size_t>& chosen) {
    StrapSet one{.pieces = {}, .path = path};
    for (const size_t i : chosen) one.pieces.push_back(usable[i]);
    order_by_wheel(one.pieces);
    return one;
  };
  const auto enough = [&](const std::vector<size_t>& chosen, double sum) {
    // A sum is quicker to look at than all that the rules ask for.
    const bool sum_decides = !physics::asks_for_directions(n.rules);
    if (sum_decides && sum * physics::credit_of(path) < needed_kg) return false;
    return enough_by_rules(of(chosen), n);
  };
  for (size_t count = kLeastPieces; count <= usable.size() && !set.suffices; ++count) {
    if (physics::asks_for_directions(n.rules) && !n.strap_way) break;
    Search search{usable, enough};
    search.choose(0, count, 0);
    set.suffices = !search.best.empty();
    if (set.suffices) set.pieces = of(search.best).pieces;
  }
  if (!set.suffices) {
    const size_t count = std::min(kLeastPieces, bag.tiedowns.size());
    set.pieces.assign(bag.tiedowns.end() - static_cast<std::ptrdiff_t>(count), bag.tiedowns.end());
    order_by_wheel(set.pieces);
  }
  return set;
}

std::string wheel_of(size_t n) {
  constexpr std::array kWheels{"LF", "RF", "LR", "RR"};
  return kWheels[n % kWheels.size()];
}

Result<std::vector<physics::PlacedTiedown>> placed(const StrapSet& straps, const Numbers& n) {
  std::vector<physics::PlacedTiedown> out;
  for (size_t i = 0; i < straps.pieces.size(); ++i) {
    const std::string wheel = wheel_of(i);
    out.push_back(placed_piece(straps.pieces[i], wheel, straps.path));
    auto legs = legs_at(wheel, straps.path, n);
    if (!legs) return std::unexpected(legs.error());
    out.back().tiedown.legs = std::move(*legs);
  }
  return out;
}

}  // namespace fairlead::plan
