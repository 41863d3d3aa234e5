#include "clients/verify/countersign.h"

#include <algorithm>

namespace fairlead::verifier {
namespace {

Refused conflict(const Standing& standing, std::string words) {
  return {409, std::move(words), standing.size};
}

}  // namespace

std::variant<KnownRequest, Refused> open_request(std::string_view bytes,
                                                 const std::vector<record::VerifierKey>& logs) {
  KnownRequest out;
  auto request = record::parse_add_checkpoint(bytes);
  if (!request) return Refused{400, "invalid input: " + request.error().message, {}};
  out.request = std::move(*request);
  auto note = record::parse_note(out.request.note);
  if (!note) {
    // A signature that cannot be one is an invalid signature, as published requests have it.
    const bool signature = note.error().message.find("base64") != std::string::npos;
    return signature ? Refused{403, "invalid signature: " + note.error().message, {}}
                     : Refused{400, "invalid input: " + note.error().message, {}};
  }
  out.note = std::move(*note);
  auto checkpoint = record::parse_checkpoint(out.note.text);
  if (!checkpoint) return Refused{400, "invalid checkpoint: " + checkpoint.error().message, {}};
  out.checkpoint = std::move(*checkpoint);
  const auto log = std::ranges::find(logs, out.checkpoint.origin, &record::VerifierKey::name);
  if (log == logs.end()) {
    return Refused{
        404, "unknown log; name its policy file if its heads are to be countersigned", {}};
  }
  if (!record::verify_note(out.note, *log)) {
    return Refused{403, "invalid signature: not signed by the log's key", {}};
  }
  return out;
}

std::optional<Refused> check_extends(const KnownRequest& request, const Standing& standing) {
  const uint64_t old_size = request.request.old_size;
  const record::Checkpoint& head = request.checkpoint;
  const auto& proof = request.request.proof;
  if (old_size > head.size) return Refused{400, "the old size is above the checkpoint's", {}};
  if (old_size != standing.size) {
    return conflict(standing, head.size < standing.size
                                  ? "a smaller tree than the one cosigned before"
                                  : "the old size is not that of the head cosigned before");
  }
  if (standing.size > 0 && head.size == standing.size && head.root != standing.root) {
    return conflict(standing, "another root than the one cosigned for this size");
  }
  const bool extends = standing.size == 0 ? proof.empty()
                                          : record::verify_consistency(standing.size, standing.root,
                                                                       head.size, head.root, proof);
  if (!extends) return Refused{422, "the consistency proof does not verify", {}};
  return std::nullopt;
}

std::string refusal_text(const Refused& refused) {
  std::string out = "refused " + std::to_string(refused.status) + " " + refused.words + "\n";
  if (refused.stands_at) out += std::to_string(*refused.stands_at) + "\n";
  return out;
}

}  // namespace fairlead::verifier
