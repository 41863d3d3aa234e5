// Base64 by libsodium, whose tables do not leak secrets through timing.
#include <sodium.h>

#include "daemon/base/crypto.h"

namespace fairlead {

std::string base64_of(std::string_view bytes) {
  std::string out(sodium_base64_encoded_len(bytes.size(), sodium_base64_VARIANT_ORIGINAL), '\0');
  sodium_bin2base64(out.data(), out.size(), reinterpret_cast<const unsigned char*>(bytes.data()),
                    bytes.size(), sodium_base64_VARIANT_ORIGINAL);
  out.pop_back();  // The terminating zero.
  return out;
}

Result<std::string> bytes_of_base64(std::string_view text, std::string_view what) {
  std::string out(text.size() / 4 * 3 + 3, '\0');
  size_t size = 0;
  const int rc =
      sodium_base642bin(reinterpret_cast<unsigned char*>(out.data()), out.size(), text.data(),
                        text.size(), nullptr, &size, nullptr, sodium_base64_VARIANT_ORIGINAL);
  if (rc == 0) out.resize(size);
  // Writing it again is the definition of canonical; the library alone is not trusted with it.
  if (rc != 0 || base64_of(out) != text) {
    return fail(Code::kBadInput, std::string(what) +
                                     ": not canonical base64; use the standard alphabet with "
                                     "padding and without spaces");
  }
  return out;
}

}  // namespace fairlead
