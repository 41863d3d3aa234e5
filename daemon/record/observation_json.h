// One observation as a line of JSON (a .jsonl file holds one a line), strictly read: protobuf JSON
// names only, every required field there, nothing unknown, nothing twice, every value sane.
//
// Required: each field of observation.proto without `optional`, lists too, except Opened.firstSeq
// and Photo.limits; `job` may be missing from what describes a source (sample, fix, alive, gap,
// clockOffset, sensor).
//
// Threads: pure functions. Memory: bounded by kLongestLine.
#pragma once

#include <string>
#include <string_view>

#include "daemon/base/result.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::record {

constexpr size_t kLongestLine = 64 * 1024;  // Bytes, without the line's end.

/// Reads one line (a trailing newline, CR or spaces do not matter). Errors: kBadInput,
/// "field.path: what is wrong; what to do"; "line: ..." when the line as a whole is at fault.
[[nodiscard]] Result<v1::Observation> observation_from_line(std::string_view line);

/// Writes it back on one line without newline, fields in the order of observation.proto, numbers as
/// the shortest decimals that read back the same. Reads back equal if check_observation holds.
[[nodiscard]] std::string observation_to_line(const v1::Observation& observation);

}  // namespace fairlead::record
