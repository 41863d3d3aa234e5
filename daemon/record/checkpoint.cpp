#include "daemon/record/checkpoint.h"

#include <charconv>

#include "daemon/record/note_form.h"

namespace fairlead::record {
namespace {

std::unexpected<Error> bad(std::string_view words) {
  return fail(Code::kBadInput, "checkpoint: " + std::string(words));
}

/// Decimal without sign or leading zeros, below 2^63 as a tree is.
Result<uint64_t> parse_size(std::string_view text) {
  uint64_t size = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), size);
  if (error != std::errc() || end != text.data() + text.size() || std::to_string(size) != text ||
      size >> 63 != 0) {
    return bad("line 2 is not a tree size in plain decimal");
  }
  return size;
}

}  // namespace

Result<std::string> origin_of(std::string_view base_name, uint32_t generation) {
  if (!is_note_key_name(base_name) || generation == 0) {
    return fail(Code::kBadInput, "origin: base name \"" + ascii_of(base_name) +
                                     "\" must be visible ASCII without space or '+', generation 1 "
                                     "or more");
  }
  return std::string(base_name) + "/fairlead/g" + std::to_string(generation);
}

std::string format_checkpoint(const Checkpoint& checkpoint) {
  return checkpoint.origin + "\n" + std::to_string(checkpoint.size) + "\n" +
         base64_of(view_of(checkpoint.root)) + "\n";
}

Result<Checkpoint> parse_checkpoint(std::string_view text) {
  std::string_view lines[3];
  for (auto& line : lines) {
    const size_t end = text.find('\n');
    if (end == std::string_view::npos) return bad("has fewer than three lines");
    line = text.substr(0, end);
    text.remove_prefix(end + 1);
  }
  if (!text.empty()) return bad("has extension lines; this log signs none");
  Checkpoint out;
  if (lines[0].empty()) return bad("line 1, the origin, is empty");
  out.origin = lines[0];
  auto size = parse_size(lines[1]);
  if (!size) return std::unexpected(size.error());
  out.size = *size;
  auto raw = bytes_of_base64(lines[2], "line 3, the root");
  if (!raw) return bad(raw.error().message);
  auto root = array_of<32>(*raw, "line 3, the root");
  if (!root) return bad(root.error().message);
  out.root = *root;
  return out;
}

Result<std::string> sign_checkpoint(const Checkpoint& checkpoint, const VerifierKey& log,
                                    const SecretKey& secret) {
  if (log.name != checkpoint.origin) {
    return bad("log key " + ascii_of(log.name) + " may not sign for origin " +
               ascii_of(checkpoint.origin));
  }
  return sign_note(format_checkpoint(checkpoint), log, secret);
}

Result<Checkpoint> open_checkpoint(const Note& note, const VerifierKey& log) {
  auto checkpoint = parse_checkpoint(note.text);
  if (!checkpoint) return checkpoint;
  if (checkpoint->origin != log.name) {
    return fail(Code::kCorrupt, "checkpoint: origin " + ascii_of(checkpoint->origin) + " is not " +
                                    ascii_of(log.name));
  }
  if (!verify_note(note, log)) {
    return fail(Code::kCorrupt, "checkpoint: not signed by the log key of " + ascii_of(log.name));
  }
  return checkpoint;
}

std::string fingerprint_of(const Hash& root) {
  const std::string hex = hex_of(root);
  std::string out;
  for (size_t i = 0; i < hex.size(); i += 8) out += (i > 0 ? " " : "") + hex.substr(i, 8);
  return out;
}

}  // namespace fairlead::record
