// SHA-256 by OpenSSL: the daemon's backend.
#include <openssl/evp.h>

#include <cstdlib>

#include "daemon/base/crypto.h"

namespace fairlead {
namespace {

// Fetching an algorithm takes a lock in OpenSSL 3, so it is done once.
const EVP_MD* algorithm() {
  static const EVP_MD* const kMd = EVP_MD_fetch(nullptr, "SHA256", nullptr);
  return kMd;
}

struct ContextFree {
  void operator()(EVP_MD_CTX* context) const { EVP_MD_CTX_free(context); }
};
using Context = std::unique_ptr<EVP_MD_CTX, ContextFree>;

// OpenSSL fails here only when it cannot get memory or was built without SHA-256; no record can be
// kept without hashes, so there is nothing to carry on with.
void must(bool ok) {
  if (!ok) std::abort();
}

void start(EVP_MD_CTX* context) { must(EVP_DigestInit_ex2(context, algorithm(), nullptr) == 1); }

Hash finish_context(EVP_MD_CTX* context) {
  Hash out;
  unsigned size = 0;
  must(EVP_DigestFinal_ex(context, out.data(), &size) == 1 && size == out.size());
  return out;
}

}  // namespace

Hash sha256(std::initializer_list<std::string_view> parts) {
  thread_local const Context context(EVP_MD_CTX_new());
  must(context != nullptr);
  start(context.get());
  for (std::string_view part : parts) {
    must(EVP_DigestUpdate(context.get(), part.data(), part.size()) == 1);
  }
  return finish_context(context.get());
}

struct Sha256::State {
  Context context{EVP_MD_CTX_new()};
};

Sha256::Sha256() : state_(std::make_unique<State>()) {
  must(state_->context != nullptr);
  start(state_->context.get());
}
Sha256::~Sha256() = default;
Sha256::Sha256(Sha256&&) noexcept = default;
Sha256& Sha256::operator=(Sha256&&) noexcept = default;

void Sha256::update(std::string_view bytes) {
  must(EVP_DigestUpdate(state_->context.get(), bytes.data(), bytes.size()) == 1);
}

Hash Sha256::finish() {
  const Hash out = finish_context(state_->context.get());
  start(state_->context.get());
  return out;
}

}  // namespace fairlead
