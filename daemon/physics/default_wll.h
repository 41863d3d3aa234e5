// Default working load limits of unmarked tiedowns, 49 CFR 393.108(a) to (f), metric column as
// printed (never converted from the pound column). Manila, polypropylene and the other cordage
// and steel strapping tables are not needed for vehicles and are not here.
//
// Threads: pure functions over constants.
#pragma once

#include <cstdint>
#include <optional>

namespace fairlead::physics {

enum class TiedownMaterial {
  kWebbing,
  kChain30,
  kChain43,
  kChain70,
  kChain80,
  kChain100,
  kWireRope
};

/// Working load limit in kg of a piece `size_um` wide or thick: the row of the next smaller
/// printed size. A size is met by either of its two printings (45 mm or 1 3/4 in).
/// nullopt below the smallest printed size, or where the table prints a dash.
[[nodiscard]] std::optional<int> default_wll_kg(TiedownMaterial material, int64_t size_um);

/// Largest figure of the material's column.
[[nodiscard]] int largest_default_wll_kg(TiedownMaterial material);

}  // namespace fairlead::physics
