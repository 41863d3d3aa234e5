// SHA-256, Ed25519, random bytes and base64: the only cryptography of the house.
//
// SHA-256 (FIPS 180-4) has two backends chosen at link time: OpenSSL in the daemon (it uses the
// processor's SHA instructions), libsodium in the offline verifier (target property
// FAIRLEAD_STATIC, see CMakeLists.txt). Ed25519 (RFC 8032) is libsodium's in both, because its
// verification is the strict profile the record is defined by: S >= L, non-canonical A or R and
// low-order A or R are refused, and the equation is checked without the cofactor.
// Threads: free functions may be called from any thread; a Sha256 or SecretKey belongs to one
// thread at a time (signing is const and may be shared). Secrets are wiped when destroyed.
#pragma once

#include <compare>
#include <cstdint>
#include <initializer_list>
#include <memory>
#include <span>
#include <string>
#include <string_view>

#include "daemon/base/bytes.h"
#include "daemon/base/result.h"

namespace fairlead {

using Hash = ByteArray<32>;

/// SHA-256 of the parts, one after the other.
[[nodiscard]] Hash sha256(std::initializer_list<std::string_view> parts);
[[nodiscard]] inline Hash sha256(std::string_view bytes) { return sha256({bytes}); }

/// SHA-256 of bytes that come in pieces.
class Sha256 {
 public:
  Sha256();
  ~Sha256();
  Sha256(Sha256&&) noexcept;
  Sha256& operator=(Sha256&&) noexcept;
  void update(std::string_view bytes);
  /// Returns the hash and starts afresh.
  [[nodiscard]] Hash finish();

 private:
  struct State;
  std::unique_ptr<State> state_;
};

struct PublicKey {
  ByteArray<32> bytes{};
  auto operator<=>(const PublicKey&) const = default;
};
struct Signature {
  ByteArray<64> bytes{};
  auto operator<=>(const Signature&) const = default;
};

/// Text that holds a secret; its memory is wiped before it is given back. Not copyable.
class SecretText {
 public:
  explicit SecretText(std::string text) : text_(std::move(text)) {}
  ~SecretText();
  SecretText(SecretText&& other) noexcept;
  SecretText& operator=(SecretText&&) = delete;
  [[nodiscard]] std::string_view view() const { return text_; }

 private:
  std::string text_;
};

/// An Ed25519 signing key. Not copyable; its memory is wiped before it is given back.
class SecretKey {
 public:
  /// A new key from the system's random source.
  [[nodiscard]] static SecretKey generate();
  /// The key of an RFC 8032 seed of 32 bytes; the caller wipes its own copy. Errors: kBadInput.
  [[nodiscard]] static Result<SecretKey> from_seed(std::string_view seed);
  /// Reads what to_text wrote; surrounding spaces and line ends are allowed. Errors: kBadInput.
  [[nodiscard]] static Result<SecretKey> from_text(std::string_view text);
  ~SecretKey();
  SecretKey(SecretKey&&) noexcept;
  SecretKey& operator=(SecretKey&&) noexcept;

  [[nodiscard]] const PublicKey& public_key() const { return public_; }
  [[nodiscard]] Signature sign(std::string_view message) const;
  /// "fairlead-secret-key-v1 BASE64(seed)\n", for a file only its owner may read.
  [[nodiscard]] SecretText to_text() const;

 private:
  SecretKey() = default;
  ByteArray<64> secret_{};  // RFC 8032 seed, then the public key.
  PublicKey public_;
};

/// True when the signature is good under the strict profile above.
[[nodiscard]] bool verify(const PublicKey& key, std::string_view message,
                          const Signature& signature);

/// Argon2id (RFC 9106), 2 passes over 64 MiB: makes guessing a short secret slow. The same secret
/// and salt give the same bytes everywhere.
[[nodiscard]] Hash stretch(std::string_view secret, const ByteArray<16>& salt);

void fill_random(std::span<uint8_t> out);
template <size_t N>
[[nodiscard]] ByteArray<N> random_array() {
  ByteArray<N> out;
  fill_random(out);
  return out;
}

/// Overwrites memory in a way the compiler may not leave out.
void wipe(std::span<uint8_t> memory);

/// Base64 with padding (RFC 4648 section 4).
[[nodiscard]] std::string base64_of(std::string_view bytes);
/// Reads only the one spelling base64_of writes: no white space, padding present, unused bits
/// zero. Errors: kBadInput.
[[nodiscard]] Result<std::string> bytes_of_base64(std::string_view text, std::string_view what);

}  // namespace fairlead
