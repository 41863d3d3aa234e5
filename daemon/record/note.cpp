#include "daemon/record/note.h"

#include <optional>

#include "daemon/base/utf8.h"
#include "daemon/record/note_form.h"

namespace fairlead::record {
namespace {

constexpr std::string_view kDash = "\xe2\x80\x94 ";  // U+2014 and a space.

std::unexpected<Error> bad(std::string_view words) {
  return fail(Code::kBadInput, "note: " + std::string(words));
}

Result<NoteSignature> parse_signature_line(std::string_view line, size_t number) {
  const std::string where = "signature line " + std::to_string(number);
  if (!line.starts_with(kDash)) return bad(where + " does not begin with an em dash and a space");
  line.remove_prefix(kDash.size());
  const size_t space = line.find(' ');
  if (space == std::string_view::npos) return bad(where + " has no space after the name");
  NoteSignature out;
  out.name = line.substr(0, space);
  if (!is_note_key_name(out.name)) return bad(where + " names a key with characters not allowed");
  auto raw = bytes_of_base64(line.substr(space + 1), where);
  if (!raw) return bad(raw.error().message);
  if (raw->size() < 5) return bad(where + " is too short to hold a key id and a signature");
  out.id = get_be<uint32_t>(reinterpret_cast<const uint8_t*>(raw->data()));
  out.bytes = raw->substr(4);
  return out;
}

std::string signature_line(const VerifierKey& key, std::string_view signature) {
  std::string raw;
  append_be(raw, key.id);
  raw += signature;
  return std::string(kDash) + key.name + " " + base64_of(raw) + "\n";
}

Status check_signer(const VerifierKey& key, NoteKeyType type, const SecretKey& secret,
                    std::string_view text) {
  if (key.type != type) return bad("key " + key.name + " is of the wrong type for this signature");
  if (key.key != secret.public_key()) {
    return bad("the secret key given is not the one of " + key.name);
  }
  if (!is_note_text(text)) {
    return bad("text to sign must be UTF-8, end in a newline and have no control characters");
  }
  return {};
}

/// What a cosignature signs.
std::string cosigned_message(uint64_t time_s, std::string_view text) {
  return "cosignature/v1\ntime " + std::to_string(time_s) + "\n" + std::string(text);
}

bool is_by(const NoteSignature& signature, const VerifierKey& key) {
  return signature.id == key.id && signature.name == key.name;
}

bool verify_raw(const VerifierKey& key, std::string_view message, std::string_view signature) {
  const auto bytes = array_of<64>(signature, "signature");
  return bytes && verify(key.key, message, Signature{*bytes});
}

}  // namespace

std::string ascii_of(std::string_view text) {
  std::string out;
  for (char c : text.substr(0, 60)) out += (c >= 0x20 && c < 0x7f) ? c : '?';
  return text.size() > 60 ? out + "..." : out;
}

bool is_note_text(std::string_view text) {
  if (text.empty() || text.back() != '\n' || !code_points(text)) return false;
  return std::none_of(text.begin(), text.end(), [](char c) {
    return (static_cast<uint8_t>(c) < 0x20 && c != '\n') || c == 0x7f;
  });
}

Result<Note> parse_note(std::string_view bytes) {
  if (bytes.size() > kMaxNoteSize) return bad("is larger than 1,000,000 bytes");
  const size_t gap = bytes.rfind("\n\n");
  if (gap == std::string_view::npos) return bad("has no empty line before its signatures");
  Note out;
  out.text = bytes.substr(0, gap + 1);
  if (!is_note_text(out.text)) {
    return bad("text is not UTF-8, is empty or has control characters");
  }
  std::string_view rest = bytes.substr(gap + 2);
  if (rest.empty()) return bad("has no signature");
  while (!rest.empty()) {
    const size_t end = rest.find('\n');
    if (end == std::string_view::npos) return bad("does not end in a newline");
    if (out.signatures.size() == kMaxNoteSignatures) return bad("has more than 16 signatures");
    auto signature = parse_signature_line(rest.substr(0, end), out.signatures.size() + 1);
    if (!signature) return std::unexpected(signature.error());
    out.signatures.push_back(std::move(*signature));
    rest.remove_prefix(end + 1);
  }
  return out;
}

std::string format_note(const Note& note) {
  std::string out = note.text + "\n";
  for (const NoteSignature& signature : note.signatures) {
    VerifierKey key{signature.name, signature.id, NoteKeyType::kEd25519, {}};
    out += signature_line(key, signature.bytes);
  }
  return out;
}

Result<std::string> note_signature_line(std::string_view text, const VerifierKey& key,
                                        const SecretKey& secret) {
  if (auto ok = check_signer(key, NoteKeyType::kEd25519, secret, text); !ok) {
    return std::unexpected(ok.error());
  }
  return signature_line(key, view_of(secret.sign(text).bytes));
}

Result<std::string> sign_note(std::string_view text, const VerifierKey& key,
                              const SecretKey& secret) {
  auto line = note_signature_line(text, key, secret);
  if (!line) return line;
  return std::string(text) + "\n" + *line;
}

bool verify_note(const Note& note, const VerifierKey& key) {
  if (key.type != NoteKeyType::kEd25519) return false;
  bool found = false;
  for (const NoteSignature& signature : note.signatures) {
    if (!is_by(signature, key)) continue;
    if (!verify_raw(key, note.text, signature.bytes)) return false;
    found = true;
  }
  return found;
}

Result<std::string> cosignature_line(std::string_view text, const VerifierKey& key,
                                     const SecretKey& secret, uint64_t time_s) {
  if (auto ok = check_signer(key, NoteKeyType::kCosignature, secret, text); !ok) {
    return std::unexpected(ok.error());
  }
  std::string raw;
  append_be(raw, time_s);
  raw += view_of(secret.sign(cosigned_message(time_s, text)).bytes);
  return signature_line(key, raw);
}

Result<uint64_t> verify_cosignature(const Note& note, const VerifierKey& key) {
  std::optional<uint64_t> time_s;
  if (key.type != NoteKeyType::kCosignature) return bad(key.name + " is no cosignature key");
  for (const NoteSignature& signature : note.signatures) {
    if (!is_by(signature, key)) continue;
    if (signature.bytes.size() != 72) {
      return fail(Code::kCorrupt, "cosignature of " + key.name + " has another length than 72");
    }
    const auto time = get_be<uint64_t>(reinterpret_cast<const uint8_t*>(signature.bytes.data()));
    const std::string_view rest = std::string_view(signature.bytes).substr(8);
    if (!verify_raw(key, cosigned_message(time, note.text), rest)) {
      return fail(Code::kCorrupt, "cosignature of " + key.name + " does not verify");
    }
    // The earliest of several is the tighter bound and just as true.
    time_s = time_s ? std::min(*time_s, time) : time;
  }
  if (!time_s) return fail(Code::kNotFound, "no cosignature of " + key.name);
  return *time_s;
}

}  // namespace fairlead::record
