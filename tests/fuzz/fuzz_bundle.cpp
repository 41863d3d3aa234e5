// A bundle's form: whatever is accepted holds only views into the bytes it was read from.

#include "daemon/record/bundle.h"
#include "tests/fuzz/target.h"

namespace fairlead::fuzz {

std::vector<std::string> seeds() {
  const auto secret = SecretKey::from_seed(std::string(32, 's'));
  require(secret.has_value(), "32 bytes make a key");
  const std::string origin = "base/fairlead/g1";
  const auto log =
      record::make_verifier_key(origin, record::NoteKeyType::kEd25519, secret->public_key());
  require(log.has_value(), "an origin names a log key");
  const auto note = record::sign_note("text\n", *log, *secret);
  require(note.has_value(), "well-formed text is signed");
  record::Bundle bundle;
  bundle.heads = {*note};
  bundle.roster = *note;
  record::BundleEntry entry;
  entry.entry = record::sign_entry(record::EntryHeader(), *secret);
  entry.path = {Hash{}, Hash{}};
  bundle.entries = {entry};
  entry.leaf = 3;
  entry.form = record::BodyForm::kBody;
  entry.body = "body";
  bundle.entries.push_back(entry);
  bundle.consistency = {{.size = 1, .proof = {Hash{}}}};
  bundle.files = {{.sha256 = {}, .bytes = "file"}};
  const auto bytes = record::write_bundle(bundle, origin, *log, *secret);
  require(bytes.has_value(), "a well-formed bundle is written");
  return {*bytes};
}

void require_inside(std::string_view part, std::string_view whole) {
  require(part.empty() || (part.data() >= whole.data() &&
                           part.data() + part.size() <= whole.data() + whole.size()),
          "a view lies inside the bundle");
}

}  // namespace fairlead::fuzz

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  using namespace fairlead;
  const std::string_view bytes = fuzz::view(data, size);
  const auto bundle = record::read_bundle(bytes);
  if (!bundle) {
    fuzz::require(!bundle.error().message.empty(), "a refusal says why");
    return 0;
  }
  for (const record::BundleEntry& entry : bundle->entries) fuzz::require_inside(entry.body, bytes);
  for (const record::BundleFile& file : bundle->files) fuzz::require_inside(file.bytes, bytes);
  for (std::string_view head : bundle->heads) fuzz::require_inside(head, bytes);
  fuzz::require_inside(bundle->sealed_part, bytes);
  fuzz::require_inside(bundle->seal, bytes);
  return 0;
}
