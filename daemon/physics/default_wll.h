// Default working load limits of unmarked tiedowns, 49 CFR 393.108: the whole table, both columns
// as printed. One column is never converted into the other: seven printed pairs differ from exact
// conversion by more than 12 kg, and a load is compared in the unit its weight was given in.
//
// Threads: pure functions over constants. Units: sizes um; ratings kg and lb.
#pragma once

#include <cstdint>
#include <optional>
#include <string_view>

#include "daemon/physics/check.h"

namespace fairlead::physics {

enum class TiedownMaterial {
  kWebbing,
  kChain30,
  kChain43,
  kChain70,
  kChain80,
  kChain100,
  kWireRope,
  kManila,
  kPolypropylene,
  kPolyester,
  kNylon,
  kDoubleNylon,  // Double-braided.
};

// 393.108(c) to (f): what counts where a marking is missing. Wire rope of known construction
// without a rating takes a quarter of its nominal strength, which its maker's table gives.
inline constexpr TiedownMaterial kUnknownChain = TiedownMaterial::kChain30;
inline constexpr TiedownMaterial kUnknownCordage = TiedownMaterial::kPolypropylene;
inline constexpr double kWireRopeShareOfStrength = 0.25;

/// Grade of a chain by the mark embossed on it, as 393.108 prints the marks: 3, 30 or 300 for proof
/// coil and so on to 10, 100 or 1000. nullopt for any other.
[[nodiscard]] std::optional<TiedownMaterial> chain_of_mark(std::string_view mark);

struct PrintedWll {
  int kg = 0;
  int lb = 0;
  Standing standing = Standing::kPublished;  // Of the less well known column.
};

/// The row of the next smaller printed size of a piece `size_um` wide or thick. A size is met by
/// either of its two printings (45 mm or 1 3/4 in). nullopt below the smallest printed size, or
/// where the table prints a dash (then no smaller row stands in for it).
[[nodiscard]] std::optional<PrintedWll> printed_wll(TiedownMaterial material, int64_t size_um);

/// Steel strapping: the strongest row that is neither wider nor thicker than the piece.
[[nodiscard]] std::optional<PrintedWll> printed_strapping_wll(int64_t width_um,
                                                              int64_t thickness_um);
inline constexpr int kLargestStrappingKg = 1200;

/// The kg column of printed_wll.
[[nodiscard]] std::optional<int> default_wll_kg(TiedownMaterial material, int64_t size_um);
/// Largest kg figure of the material's column.
[[nodiscard]] int largest_default_wll_kg(TiedownMaterial material);

}  // namespace fairlead::physics
