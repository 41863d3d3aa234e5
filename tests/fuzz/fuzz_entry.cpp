// An entry's header: an accepted one is encoded back to the same bytes.

#include "daemon/record/entry.h"
#include "tests/fuzz/target.h"

namespace fairlead::fuzz {

std::vector<std::string> seeds() {
  const auto secret = SecretKey::from_seed(std::string(32, 's'));
  require(secret.has_value(), "32 bytes make a key");
  record::EntryHeader header;
  header.seq = 7;
  header.wall_us = 1'772'445'600'000'000;
  header.seen_size = 12;
  header.seen_root[0] = 1;
  header.body_len = 99;
  const std::string entry = string_of(record::sign_entry(header, *secret));
  return {entry, entry.substr(0, 224)};
}

}  // namespace fairlead::fuzz

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  using namespace fairlead;
  const std::string_view bytes = fuzz::view(data, size);
  const auto header = record::decode_header(bytes);
  if (!header) {
    fuzz::require(!header.error().message.empty(), "a refusal says why");
    return 0;
  }
  fuzz::require(view_of(record::encode_header(*header)) == bytes.substr(0, 224),
                "an accepted header has one spelling");
  return 0;
}
