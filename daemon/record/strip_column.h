// Whole numbers as differences, so that steady signals cost a byte or less each.
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "fairlead/v1/strip.pb.h"

namespace fairlead::record {

/// Takes the order (0, 1 or 2) that gives the fewest bytes.
void pack_column(std::span<const int64_t> values, v1::StripColumn& out);

/// nullopt for an order above 2. Any steps give some numbers: the caller checks their ranges.
[[nodiscard]] std::optional<std::vector<int64_t>> unpack_column(const v1::StripColumn& column);

}  // namespace fairlead::record
