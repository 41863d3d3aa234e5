// SHA-256 by libsodium: the offline verifier's backend, so that it needs one crypto library only.
#include <sodium.h>

#include "daemon/base/crypto.h"

namespace fairlead {
namespace {

void add(crypto_hash_sha256_state& state, std::string_view bytes) {
  crypto_hash_sha256_update(&state, reinterpret_cast<const unsigned char*>(bytes.data()),
                            bytes.size());
}

}  // namespace

Hash sha256(std::initializer_list<std::string_view> parts) {
  crypto_hash_sha256_state state;
  crypto_hash_sha256_init(&state);
  for (std::string_view part : parts) add(state, part);
  Hash out;
  crypto_hash_sha256_final(&state, out.data());
  return out;
}

struct Sha256::State {
  crypto_hash_sha256_state state;
};

Sha256::Sha256() : state_(std::make_unique<State>()) { crypto_hash_sha256_init(&state_->state); }
Sha256::~Sha256() = default;
Sha256::Sha256(Sha256&&) noexcept = default;
Sha256& Sha256::operator=(Sha256&&) noexcept = default;

void Sha256::update(std::string_view bytes) { add(state_->state, bytes); }

Hash Sha256::finish() {
  Hash out;
  crypto_hash_sha256_final(&state_->state, out.data());
  crypto_hash_sha256_init(&state_->state);
  return out;
}

}  // namespace fairlead
