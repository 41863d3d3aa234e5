// Signed notes and verifier keys, C2SP signed-note v1.0.0; timestamped cosignatures, C2SP
// tlog-cosignature v1.
//
// A note is text that ends in a newline, an empty line, then signature lines
// "— NAME BASE64(key id 4 || signature)\n". A verifier key is "NAME+HEX8+BASE64(type || key)".
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/crypto.h"
#include "daemon/base/result.h"

namespace fairlead::record {

inline constexpr size_t kMaxNoteSize = 1'000'000;
inline constexpr size_t kMaxNoteSignatures = 16;

enum class NoteKeyType : uint8_t {
  kEd25519 = 1,      // Signs the note's text.
  kCosignature = 4,  // Signs "cosignature/v1\ntime T\n" and the text; the signature carries T.
};

struct VerifierKey {
  std::string name;
  uint32_t id = 0;
  NoteKeyType type = NoteKeyType::kEd25519;
  PublicKey key;
  bool operator==(const VerifierKey&) const = default;
};

/// Errors: kBadInput for a name that is empty or has a space or '+', or another key type.
[[nodiscard]] Result<VerifierKey> make_verifier_key(std::string_view name, NoteKeyType type,
                                                    const PublicKey& key);
/// Errors: kBadInput, also when the id is not the one its name and key give.
[[nodiscard]] Result<VerifierKey> parse_verifier_key(std::string_view text);
[[nodiscard]] std::string format_verifier_key(const VerifierKey& key);

struct NoteSignature {
  std::string name;
  uint32_t id = 0;
  std::string bytes;  // Without the key id.
};

struct Note {
  std::string text;  // Ends in a newline.
  std::vector<NoteSignature> signatures;
};

/// Errors: kBadInput naming the line: no signature, text not UTF-8 or with control characters, a
/// signature line out of form, base64 not canonical, over the caps above.
[[nodiscard]] Result<Note> parse_note(std::string_view bytes);
[[nodiscard]] std::string format_note(const Note& note);

/// "— NAME BASE64\n" for `text`. The key must be of type kEd25519 and `secret` its secret half.
/// Errors: kBadInput for text that parse_note would refuse.
[[nodiscard]] Result<std::string> note_signature_line(std::string_view text, const VerifierKey& key,
                                                      const SecretKey& secret);
/// text || "\n" || signature line.
[[nodiscard]] Result<std::string> sign_note(std::string_view text, const VerifierKey& key,
                                            const SecretKey& secret);

/// True when a signature line of this key (name and id both fit) is good and none of them is bad.
[[nodiscard]] bool verify_note(const Note& note, const VerifierKey& key);

/// A cosignature line over a checkpoint's text, at `time_s` Unix seconds.
[[nodiscard]] Result<std::string> cosignature_line(std::string_view text, const VerifierKey& key,
                                                   const SecretKey& secret, uint64_t time_s);
/// The time (Unix seconds) of this countersigner's cosignature on the note. Errors: kNotFound when
/// it has none; kCorrupt when one does not verify.
[[nodiscard]] Result<uint64_t> verify_cosignature(const Note& note, const VerifierKey& key);

}  // namespace fairlead::record
