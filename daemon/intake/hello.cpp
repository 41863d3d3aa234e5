#include "daemon/intake/hello.h"

#include "daemon/base/bytes.h"
#include "daemon/base/crypto.h"

namespace fairlead::intake {

std::string hello_text(const v1::Hello& hello) {
  std::string text = "fairlead/hello/v1\n" + hello.device_id();
  append_be(text, hello.epoch());
  append_be(text, uint64_t{hello.last_seq()});
  return text + hello.last_chain();
}

Status check_hello(const v1::Hello& hello) {
  if (hello.device_id().size() != 16)
    return fail(Code::kBadInput, "hello.device_id: give 16 bytes");
  const auto key = array_of<32>(hello.public_key(), "hello.public_key");
  if (!key) return std::unexpected(key.error());
  const auto signature = array_of<64>(hello.signature(), "hello.signature");
  if (!signature) return std::unexpected(signature.error());
  if (hello.name().empty() || hello.name().size() > 64) {
    return fail(Code::kBadInput, "hello.name: give 1 to 64 characters");
  }
  if (!verify(PublicKey{*key}, hello_text(hello), Signature{*signature})) {
    return fail(Code::kBadInput, "hello.signature: is not by hello.public_key");
  }
  return {};
}

}  // namespace fairlead::intake
