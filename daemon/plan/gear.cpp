#include "daemon/plan/gear.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "daemon/base/nearest.h"
#include "daemon/plan/numbers.h"

namespace fairlead::plan {
namespace {

using Kind = v1::GearKind;

bool is_tiedown(Kind::Word kind) {
  return kind == Kind::WEBBING || kind == Kind::RATCHET || kind == Kind::CHAIN;
}
bool is_rigging(Kind::Word kind) {
  return kind == Kind::SOFT_SHACKLE || kind == Kind::SOFT_LOOP || kind == Kind::SHACKLE ||
         kind == Kind::HOOK || kind == Kind::J_HOOK || kind == Kind::SYNTHETIC_ROPE;
}

double kilograms(int64_t grams) { return static_cast<double>(grams) / 1000; }

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

}  // namespace

Interval rating_kg(const judge::GearItem& item) {
  return {item.wll.lo_g ? kilograms(*item.wll.lo_g) : 0,
          item.wll.hi_g ? kilograms(*item.wll.hi_g) : physics::kNoBound};
}

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

}  // namespace fairlead::plan
