#include "daemon/physics/securement_friction.h"

#include <array>

namespace fairlead::physics {
namespace {

constexpr auto kRead = Standing::kPublished;
constexpr std::array kTable{FrictionRow{"sawn timber", "plywood", 0.45, kRead},
                            FrictionRow{"sawn timber", "grooved aluminium", 0.4, kRead},
                            FrictionRow{"sawn timber", "stainless steel", 0.3, kRead},
                            FrictionRow{"planed wood", "plywood", 0.3, kRead},
                            FrictionRow{"plastic pallet", "plywood", 0.2, kRead},
                            FrictionRow{"plastic pallet", "aluminium", 0.15, kRead},
                            FrictionRow{"plastic pallet", "stainless steel", 0.15, kRead},
                            FrictionRow{"cardboard", "cardboard", 0.5, kRead},
                            FrictionRow{"rough unpainted metal", "metal", 0.4, kRead},
                            FrictionRow{"painted rough metal", "metal", 0.3, kRead},
                            FrictionRow{"painted smooth metal", "metal", 0.2, kRead},
                            FrictionRow{"smooth metal", "metal", 0.2, kRead},
                            FrictionRow{"steel crate", "plywood", 0.45, kRead},
                            FrictionRow{"steel crate", "aluminium", 0.3, kRead},
                            FrictionRow{"steel crate", "stainless steel", 0.2, kRead},
                            FrictionRow{"rough concrete", "sawn wood", 0.7, kRead}};

}  // namespace

std::span<const FrictionRow> friction_table() { return kTable; }

Result<FrictionRow> find_friction(std::string_view load, std::string_view deck) {
  for (const FrictionRow& row : kTable) {
    if (row.load == load && row.deck == deck) return row;
  }
  return fail(Code::kNotFound,
              fmt::format("the table has no friction of {} on {}; name a pair it prints, or "
                          "measure",
                          load, deck));
}

std::optional<int> over_top_multiple(double to_deck_deg) {
  if (!(to_deck_deg >= 30 && to_deck_deg <= 90)) return std::nullopt;
  return to_deck_deg >= 75 ? 1 : 2;
}

}  // namespace fairlead::physics
