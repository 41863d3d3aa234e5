// Verifier keys and key names of signed notes.
#include "daemon/base/utf8.h"
#include "daemon/record/note.h"
#include "daemon/record/note_form.h"

namespace fairlead::record {
namespace {

uint32_t note_key_id(std::string_view name, NoteKeyType type, const PublicKey& key) {
  const char type_byte = static_cast<char>(type);
  const Hash hash = sha256({name, "\n", {&type_byte, 1}, view_of(key.bytes)});
  return get_be<uint32_t>(hash.data());
}

}  // namespace

bool is_note_key_name(std::string_view name) {
  if (name.empty() || name.size() > 255) return false;
  for (char c : name) {
    const auto byte = static_cast<uint8_t>(c);
    // Only visible ASCII: the wider Unicode that notes allow could look like another name.
    if (byte <= 0x20 || byte >= 0x7f || c == '+') return false;
  }
  return true;
}

Result<VerifierKey> make_verifier_key(std::string_view name, NoteKeyType type,
                                      const PublicKey& key) {
  if (!is_note_key_name(name)) {
    return fail(Code::kBadInput, "key name \"" + ascii_of(name) +
                                     "\": must be 1 to 255 visible ASCII characters without space "
                                     "or '+'");
  }
  if (type != NoteKeyType::kEd25519 && type != NoteKeyType::kCosignature) {
    return fail(Code::kBadInput, "key type " + std::to_string(static_cast<unsigned>(type)) +
                                     ": unknown; use 1 (Ed25519) or 4 (cosignature)");
  }
  return VerifierKey{std::string(name), note_key_id(name, type, key), type, key};
}

Result<VerifierKey> parse_verifier_key(std::string_view text) {
  const auto bad = [&](const std::string& words) {
    return fail(Code::kBadInput, "verifier key \"" + ascii_of(text) + "\": " + words);
  };
  const size_t first = text.find('+');
  const size_t second = first == std::string_view::npos ? first : text.find('+', first + 1);
  if (second == std::string_view::npos) return bad("is not NAME+HEX8+BASE64");
  const auto id = array_of_hex<4>(text.substr(first + 1, second - first - 1), "key id");
  if (!id) return bad(id.error().message);
  const auto raw = bytes_of_base64(text.substr(second + 1), "key");
  if (!raw) return bad(raw.error().message);
  if (raw->size() != 33) return bad("its key has another length than 1 + 32 bytes");
  PublicKey key;
  std::memcpy(key.bytes.data(), raw->data() + 1, 32);
  auto made = make_verifier_key(text.substr(0, first),
                                static_cast<NoteKeyType>(static_cast<uint8_t>((*raw)[0])), key);
  if (!made) return bad(made.error().message);
  if (made->id != get_be<uint32_t>(id->data())) {
    return bad("its key id does not belong to its name and key; copy the whole line again");
  }
  return made;
}

std::string format_verifier_key(const VerifierKey& key) {
  std::string raw(1, static_cast<char>(key.type));
  raw += view_of(key.key.bytes);
  std::string id;
  append_be(id, key.id);
  return key.name + "+" + hex_of(id) + "+" + base64_of(raw);
}

}  // namespace fairlead::record
