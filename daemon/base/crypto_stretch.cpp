// Argon2id (RFC 9106) by libsodium, for the one short secret that people read aloud.
#include <sodium.h>

#include <cstdlib>

#include "daemon/base/crypto.h"

namespace fairlead {

Hash stretch(std::string_view secret, const ByteArray<16>& salt) {
  static_assert(crypto_pwhash_SALTBYTES == 16);
  Hash out{};
  // Fails only for want of 64 MiB of memory.
  if (sodium_init() < 0 ||
      crypto_pwhash(out.data(), out.size(), secret.data(), secret.size(), salt.data(),
                    crypto_pwhash_OPSLIMIT_INTERACTIVE, crypto_pwhash_MEMLIMIT_INTERACTIVE,
                    crypto_pwhash_ALG_ARGON2ID13) != 0) {
    std::abort();
  }
  return out;
}

}  // namespace fairlead
