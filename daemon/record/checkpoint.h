// A signed tree head as text, C2SP tlog-checkpoint v1.0.0: three lines, origin, size in decimal,
// BASE64(root), with no extension lines; it is signed as a note (note.h).
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "daemon/record/note.h"

namespace fairlead::record {

struct Checkpoint {
  std::string origin;
  uint64_t size = 0;
  Hash root{};
  bool operator==(const Checkpoint&) const = default;
};

/// "<base name>/fairlead/g<generation>". Errors: kBadInput for a name that is empty, has a space,
/// '+', control character or is not ASCII, and for generation 0.
[[nodiscard]] Result<std::string> origin_of(std::string_view base_name, uint32_t generation);

[[nodiscard]] std::string format_checkpoint(const Checkpoint& checkpoint);
/// The text of a note. Errors: kBadInput naming the line; extension lines are refused.
[[nodiscard]] Result<Checkpoint> parse_checkpoint(std::string_view text);

/// A log key's name is the origin it signs for.
[[nodiscard]] Result<std::string> sign_checkpoint(const Checkpoint& checkpoint,
                                                  const VerifierKey& log, const SecretKey& secret);
/// Reads a signed checkpoint and checks the log's signature and that its name is the origin.
/// Errors: kBadInput malformed, kCorrupt not signed by this log.
[[nodiscard]] Result<Checkpoint> open_checkpoint(const Note& note, const VerifierKey& log);

/// A root in eight groups of eight hex characters, as reports, the daily head mail and the programs
/// print it: what people compare.
[[nodiscard]] std::string fingerprint_of(const Hash& root);

}  // namespace fairlead::record
