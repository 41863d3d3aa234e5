// Countersigning a head: what C2SP tlog-witness v0.1 asks of a witness, without network, clock or
// disk. A refusal carries the HTTP status of that standard.
//
// Threads: pure functions.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "daemon/record/add_checkpoint.h"

namespace fairlead::verifier {

/// The last head cosigned for one log. size 0: none yet.
struct Standing {
  uint64_t size = 0;
  Hash root{};
  uint64_t at_s = 0;  // Unix seconds of the cosignature.
  bool operator==(const Standing&) const = default;
};

struct Refused {
  int status = 400;  // 400, 403, 404, 409, 422.
  std::string words;
  std::optional<uint64_t> stands_at;  // With 409: the size to prove from.
};

/// A request whose checkpoint is signed by a log we know.
struct KnownRequest {
  record::AddCheckpoint request;
  record::Note note;
  record::Checkpoint checkpoint;
};

/// 400 out of form, 404 unknown log, 403 not signed by it.
[[nodiscard]] std::variant<KnownRequest, Refused> open_request(
    std::string_view bytes, const std::vector<record::VerifierKey>& logs);

/// Whether the head extends what was cosigned before: 400 old size above the checkpoint's, 409
/// another old size than ours or the same size with another root, 422 a bad proof.
[[nodiscard]] std::optional<Refused> check_extends(const KnownRequest& request,
                                                   const Standing& standing);

/// "refused STATUS WORDS\n", with 409 the size on a second line: what is sent back in the place of
/// cosignature lines.
[[nodiscard]] std::string refusal_text(const Refused& refused);

}  // namespace fairlead::verifier
