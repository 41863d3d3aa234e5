// What a log sends to a countersigner: the add-checkpoint body of C2SP tlog-witness v0.1,
// "old SIZE\n", one BASE64(hash) a line, an empty line, the signed checkpoint. For trees that exist
// it is under 3 KB.
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/record/checkpoint.h"
#include "daemon/record/merkle.h"

namespace fairlead::record {

/// 63 hashes of 45 bytes are 2,835; the rest is room for a checkpoint with a long origin.
inline constexpr size_t kMaxAddCheckpoint = 4'096;

struct AddCheckpoint {
  uint64_t old_size = 0;
  std::vector<Hash> proof;  // RFC 6962 2.1.2, from old_size to the checkpoint; empty from 0.
  std::string note;         // The checkpoint with its signature lines, as signed.
};

[[nodiscard]] std::string format_add_checkpoint(const AddCheckpoint& request);
/// Form only: lines, numbers, base64; the note is not read. Errors: kBadInput naming the line.
[[nodiscard]] Result<AddCheckpoint> parse_add_checkpoint(std::string_view bytes);

}  // namespace fairlead::record
