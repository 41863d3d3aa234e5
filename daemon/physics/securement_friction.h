// Friction between a load and what it stands on, static, surfaces swept clean: CTU Code Annex 7
// Appendix 2 (read on a wiki of its publisher). Frost, ice or snow: 0.2 on the road (from memory).
// And the practice for the angle of over-top lashings.
//
// Threads: pure functions over constants. Units: friction is a ratio; angles degrees to the deck.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "daemon/physics/check.h"

namespace fairlead::physics {

struct FrictionRow {
  std::string_view load, deck;
  double static_friction;
  Standing standing;
};
[[nodiscard]] std::span<const FrictionRow> friction_table();

/// Errors: kNotFound for a pair that the table does not print.
[[nodiscard]] Result<FrictionRow> find_friction(std::string_view load, std::string_view deck);

inline constexpr double kFrictionIce = 0.2;     // Whatever the pair; from memory.
inline constexpr double kFrictionRubber = 0.6;  // Rubber or anti-slip material, clean; from memory.

/// Over-top lashings by a table made for 75 to 90 degrees: how many times the table's number.
/// nullopt under 30 degrees: use another method (a shipping line's page).
[[nodiscard]] std::optional<int> over_top_multiple(double to_deck_deg);

}  // namespace fairlead::physics
