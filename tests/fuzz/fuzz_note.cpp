// Signed notes, and the checkpoints and rosters in them: an accepted note is written back byte for
// byte, an accepted checkpoint too.

#include "daemon/record/checkpoint.h"
#include "daemon/record/roster.h"
#include "tests/fuzz/target.h"

namespace fairlead::fuzz {

std::vector<std::string> seeds() {
  const auto secret = SecretKey::from_seed(std::string(32, 's'));
  require(secret.has_value(), "32 bytes make a key");
  record::Checkpoint checkpoint;
  checkpoint.origin = "base/fairlead/g1";
  checkpoint.size = 48'211;
  const auto log = record::make_verifier_key(checkpoint.origin, record::NoteKeyType::kEd25519,
                                             secret->public_key());
  require(log.has_value(), "an origin names a log key");
  const auto head = record::sign_checkpoint(checkpoint, *log, *secret);
  const auto note = record::sign_note("two lines\nof text\n", *log, *secret);
  require(head.has_value() && note.has_value(), "well-formed text is signed");
  return {*head, *note, record::format_checkpoint(checkpoint)};
}

}  // namespace fairlead::fuzz

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  using namespace fairlead;
  const std::string_view bytes = fuzz::view(data, size);
  if (const auto note = record::parse_note(bytes)) {
    fuzz::require(record::format_note(*note) == bytes, "an accepted note has one spelling");
  }
  if (const auto checkpoint = record::parse_checkpoint(bytes)) {
    fuzz::require(record::format_checkpoint(*checkpoint) == bytes,
                  "an accepted checkpoint has one spelling");
  }
  const auto roster = record::open_roster(bytes);
  fuzz::require(roster.has_value() || !roster.error().message.empty(), "a refusal says why");
  return 0;
}
