// 1: the log's own signature over every byte of the bundle.
#include "clients/verify/steps.h"

namespace fairlead::verifier {

void check_seal(const Case& c, Verdicts& verdicts) {
  const auto note = record::parse_note(c.bundle.seal);
  if (!note) {
    verdicts.add(1, Mark::kMalformed, note.error().message);
    return;
  }
  const record::VerifierKey& log = c.policy.log;
  bool by_log = false;
  for (const auto& signature : note->signatures) {
    by_log = by_log || (signature.id == log.id && signature.name == log.name);
  }
  if (!by_log) {
    verdicts.add(1, Mark::kUnknown, "sealed by another key than the policy's log key");
  } else if (note->signatures.size() != 1) {
    verdicts.add(1, Mark::kMalformed, "the seal has more than the log's signature");
  } else if (!record::verify_note(*note, log)) {
    verdicts.add(1, Mark::kDisproven, "the seal's signature does not verify");
  } else if (note->text != record::seal_text(c.policy.origin(), c.bundle.sealed_part)) {
    verdicts.add(1, Mark::kDisproven, "bytes of the bundle were changed after it was sealed");
  } else {
    verdicts.add(1, Mark::kGood, "sealed by " + log.name);
  }
}

}  // namespace fairlead::verifier
