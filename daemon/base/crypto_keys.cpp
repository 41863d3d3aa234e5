// Ed25519, random bytes and wiping by libsodium.
#include <sodium.h>

#include <cstdlib>

#include "daemon/base/crypto.h"

namespace fairlead {
namespace {

constexpr std::string_view kSecretTextLabel = "fairlead-secret-key-v1 ";

const unsigned char* raw(std::string_view bytes) {
  return reinterpret_cast<const unsigned char*>(bytes.data());
}

// Safe to call often and from any thread; fails only when the system has no random source, and
// then no key of ours could be trusted.
void ready() {
  if (sodium_init() < 0) std::abort();
}

std::string_view trimmed(std::string_view text) {
  const auto first = text.find_first_not_of(" \t\r\n");
  if (first == std::string_view::npos) return {};
  return text.substr(first, text.find_last_not_of(" \t\r\n") - first + 1);
}

}  // namespace

SecretText::~SecretText() { wipe({reinterpret_cast<uint8_t*>(text_.data()), text_.size()}); }

SecretText::SecretText(SecretText&& other) noexcept : text_(other.text_) {
  // A short string moves by copying its bytes, so the old place is wiped by hand.
  wipe({reinterpret_cast<uint8_t*>(other.text_.data()), other.text_.size()});
  other.text_.clear();
}

SecretKey SecretKey::generate() {
  ready();
  SecretKey key;
  crypto_sign_keypair(key.public_.bytes.data(), key.secret_.data());
  return key;
}

Result<SecretKey> SecretKey::from_seed(std::string_view seed) {
  ready();
  if (seed.size() != crypto_sign_SEEDBYTES) {
    return fail(Code::kBadInput, "secret key: its seed has " + std::to_string(seed.size()) +
                                     " bytes; give exactly 32");
  }
  SecretKey key;
  crypto_sign_seed_keypair(key.public_.bytes.data(), key.secret_.data(), raw(seed));
  return key;
}

Result<SecretKey> SecretKey::from_text(std::string_view text) {
  text = trimmed(text);
  if (!text.starts_with(kSecretTextLabel)) {
    return fail(Code::kBadInput, "secret key: does not begin with \"" +
                                     std::string(trimmed(kSecretTextLabel)) +
                                     "\"; give a key file that fairlead made");
  }
  auto seed = bytes_of_base64(text.substr(kSecretTextLabel.size()), "secret key");
  if (!seed) return std::unexpected(seed.error());
  const SecretText held(std::move(*seed));
  return from_seed(held.view());
}

SecretKey::~SecretKey() { wipe(secret_); }

SecretKey::SecretKey(SecretKey&& other) noexcept : secret_(other.secret_), public_(other.public_) {
  wipe(other.secret_);
}

SecretKey& SecretKey::operator=(SecretKey&& other) noexcept {
  if (this != &other) {
    secret_ = other.secret_;
    public_ = other.public_;
    wipe(other.secret_);
  }
  return *this;
}

Signature SecretKey::sign(std::string_view message) const {
  Signature out;
  crypto_sign_detached(out.bytes.data(), nullptr, raw(message), message.size(), secret_.data());
  return out;
}

SecretText SecretKey::to_text() const {
  std::string text(kSecretTextLabel);
  text.reserve(kSecretTextLabel.size() + 48);
  SecretText seed(base64_of(view_of(secret_).substr(0, crypto_sign_SEEDBYTES)));
  text += seed.view();
  text += '\n';
  return SecretText(std::move(text));
}

bool verify(const PublicKey& key, std::string_view message, const Signature& signature) {
  ready();
  return crypto_sign_verify_detached(signature.bytes.data(), raw(message), message.size(),
                                     key.bytes.data()) == 0;
}

void fill_random(std::span<uint8_t> out) {
  ready();
  randombytes_buf(out.data(), out.size());
}

void wipe(std::span<uint8_t> memory) { sodium_memzero(memory.data(), memory.size()); }

}  // namespace fairlead
