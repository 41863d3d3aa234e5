#include "daemon/plan/gear.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "daemon/base/nearest.h"
#include "daemon/plan/numbers.h"

namespace fairlead::plan {
namespace {

using Kind = v1::GearKind;
constexpr size_t kLeastPieces = 4;  // Two in front and two behind.
constexpr size_t kMostTried = 16;   // Pieces a set is looked for among.
constexpr double kLightVehicleKg = physics::light_vehicle_limit(physics::WeightUnit::kKg);

bool is_tiedown(Kind::Word kind) {
  return kind == Kind::WEBBING || kind == Kind::RATCHET || kind == Kind::CHAIN;
}
bool is_rigging(Kind::Word kind) {
  return kind == Kind::SOFT_SHACKLE || kind == Kind::SOFT_LOOP || kind == Kind::SHACKLE ||
         kind == Kind::HOOK || kind == Kind::J_HOOK || kind == Kind::SYNTHETIC_ROPE;
}

double kilograms(int64_t grams) { return static_cast<double>(grams) / 1000; }

Interval rating_kg(const judge::GearItem& item) {
  return {item.wll.lo_g ? kilograms(*item.wll.lo_g) : 0,
          item.wll.hi_g ? kilograms(*item.wll.hi_g) : physics::kNoBound};
}

// In service, in date, whole; notes say why one is not.
std::optional<Piece> piece_of(const judge::GearItem& item, int64_t at_us,
                              std::vector<std::string>& notes) {
  const v1::Gear& text = item.text;
  const physics::DefectFinding counting = item.counting(at_us);
  if (counting.counts == Verdict::kDeviated) {
    notes.push_back(fmt::format("{} does not count: {}", text.id(), counting.why));
    return std::nullopt;
  }
  Piece piece{.item = &item, .wll_kg = rating_kg(item), .counts = counting.counts};
  if (counting.counts == Verdict::kUnproven)
    notes.push_back(fmt::format("{} may not count: {}", text.id(), counting.why));
  return piece;
}

// A piece's own anchor rating, and the weakest anchor among the truck's.
void limit_by_anchors(GearBag& bag, const std::vector<Piece>& anchors) {
  for (Piece& piece : bag.tiedowns) {
    const auto limit = [&](const Interval& anchor) {
      piece.anchor_kg = piece.anchor_kg ? least(*piece.anchor_kg, anchor) : anchor;
    };
    if (piece.item->anchor_wll_g) limit(physics::exactly(kilograms(*piece.item->anchor_wll_g)));
    for (const Piece& anchor : anchors) limit(anchor.wll_kg);
    if (piece.anchor_kg) piece.wll_kg = least(piece.wll_kg, *piece.anchor_kg);
  }
}

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

// Chooses `left` more pieces from `from` on; keeps the set with the least sum that reaches
// `needed`.
struct Search {
  const std::vector<Piece>& pieces;
  double needed_kg, credit;
  std::vector<size_t> chosen, best;
  double best_sum = physics::kNoBound;

  void choose(size_t from, size_t left, double sum) {
    if (sum >= best_sum) return;
    if (left == 0) {
      if (sum * credit < needed_kg) return;
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

}  // namespace

Result<GearBag> gear_for(const judge::RegisterBook& book, const Request& request) {
  GearBag bag;
  std::vector<Piece> anchors;
  for (const std::string& id : request.gear) {
    if (book.gear(id) != nullptr) continue;
    std::vector<std::string_view> known;
    for (const auto& [name, item] : book.gear_items()) known.push_back(name);
    return fail(Code::kNotFound,
                fmt::format("gear '{}' is not in the register; the nearest is '{}'", id,
                            nearest(id, known)));
  }
  for (const auto& [id, item] : book.gear_items()) {
    const bool named = std::ranges::find(request.gear, id) != request.gear.end();
    const bool carried = item.text.truck() == request.truck;
    // Anchors and what stands in the line are the truck's own, even where the straps are named.
    if (!named && !(carried && (request.gear.empty() || !is_tiedown(item.text.kind())))) continue;
    const auto piece = piece_of(item, request.at_us, bag.notes);
    if (!piece) continue;
    const Kind::Word kind = item.text.kind();
    if (is_tiedown(kind)) bag.tiedowns.push_back(*piece);
    if (is_rigging(kind)) bag.rigging.push_back(*piece);
    if (kind == Kind::SNATCH_BLOCK) bag.blocks.push_back(*piece);
    if (kind == Kind::ANCHOR) anchors.push_back(*piece);
  }
  limit_by_anchors(bag, anchors);
  std::ranges::stable_sort(bag.tiedowns, {}, [](const Piece& piece) { return piece.wll_kg.lo; });
  return bag;
}

StrapSet smallest_strap_set(const GearBag& bag, const Interval& mass_kg, physics::Path path) {
  StrapSet set{.pieces = {}, .path = path};
  const double credit = physics::credit_of(path);
  set.needed_kg = physics::kShareOfWeight * mass_kg.hi;
  set.least_each_kg = set.needed_kg / credit / kLeastPieces;
  std::vector<Piece> usable;
  const bool heavy = mass_kg.hi > kLightVehicleKg;
  const double least_each = heavy ? physics::heavy_tiedown_wll(physics::WeightUnit::kKg) : 0;
  if (heavy) set.least_each_kg = std::max(set.least_each_kg, least_each);
  for (const Piece& piece : bag.tiedowns)
    if (piece.wll_kg.lo >= least_each) usable.push_back(piece);
  // The strongest ones, where there are more than can be looked through; they stay weakest first.
  if (usable.size() > kMostTried) usable.erase(usable.begin(), usable.end() - kMostTried);
  for (size_t count = kLeastPieces; count <= usable.size() && !set.suffices; ++count) {
    Search search{usable, set.needed_kg, credit, {}, {}};
    search.choose(0, count, 0);
    for (const size_t i : search.best) set.pieces.push_back(usable[i]);
    set.suffices = !search.best.empty();
  }
  if (!set.suffices) {
    const size_t count = std::min(kLeastPieces, bag.tiedowns.size());
    set.pieces.assign(bag.tiedowns.end() - static_cast<std::ptrdiff_t>(count), bag.tiedowns.end());
  }
  order_by_wheel(set.pieces);
  return set;
}

std::string wheel_of(size_t n) {
  constexpr std::array kWheels{"LF", "RF", "LR", "RR"};
  return kWheels[n % kWheels.size()];
}

std::vector<physics::PlacedTiedown> placed(const StrapSet& straps) {
  std::vector<physics::PlacedTiedown> out;
  for (size_t i = 0; i < straps.pieces.size(); ++i) {
    const Piece& piece = straps.pieces[i];
    physics::PlacedTiedown tiedown;
    tiedown.tiedown.name = piece.item->text.id();
    tiedown.tiedown.parts = {{.name = piece.item->text.id(),
                              .wll = rating_kg(*piece.item),
                              .counts = piece.counts,
                              .why = piece.item->text.defect()}};
    if (piece.anchor_kg)
      tiedown.tiedown.anchor =
          physics::Part{.name = "its anchor", .wll = *piece.anchor_kg, .why = ""};
    tiedown.tiedown.path = straps.path;
    tiedown.end = wheel_of(i)[1] == 'F' ? physics::End::kFront : physics::End::kRear;
    out.push_back(tiedown);
  }
  return out;
}

}  // namespace fairlead::plan
