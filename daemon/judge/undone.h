// Which lines others have taken back. A line that is taken back is as if it had never been said,
// an `undo` too: what that took back then counts again. What an instrument read or a camera took is
// not said, and no word of a person's takes it back.
//
// Threads: pure function.
#pragma once

#include <cstdint>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "fairlead/v1/observation.pb.h"

namespace fairlead::judge {

/// (source, seq) of the lines that are taken back; `lines`: at least every `undo`, in
/// the order they count in.
[[nodiscard]] std::set<std::pair<std::string, uint32_t>> undone_lines(
    const std::vector<const v1::Observation*>& lines);

}  // namespace fairlead::judge
