#include "daemon/record/generation.h"

#include <charconv>

#include "daemon/record/checkpoint.h"

namespace fairlead::record {

Result<uint32_t> generation_of(std::string_view origin) {
  const size_t at = origin.rfind("/fairlead/g");
  uint32_t number = 0;
  if (at != std::string_view::npos) {
    const char* digits = origin.data() + at + 11;
    const char* end = origin.data() + origin.size();
    const auto [stop, error] = std::from_chars(digits, end, number);
    if (error == std::errc() && stop == end && number > 0) return number;
  }
  return fail(Code::kBadInput, "origin: must end in /fairlead/g<number>");
}

std::string seam_text(const v1::RestoreBody& body, std::string_view new_origin) {
  std::string text = "fairlead/generation/v1\n" + body.old_origin() + "\n";
  text.append(new_origin).append("\n");
  append_be(text, uint64_t{body.kept_size()});
  return text + body.kept_root() + string_of(sha256(body.roster()));
}

Result<Roster> open_seam(const v1::RestoreBody& body, const Roster& old) {
  auto roster = open_roster(body.roster());
  if (!roster) return fail_at("the new generation's roster: ", roster.error());
  const auto before = generation_of(old.log.name), after = generation_of(roster->log.name);
  if (!before || !after || *after != *before + 1 || body.old_origin() != old.log.name ||
      roster->base_name != old.base_name || roster->root != old.root ||
      body.kept_root().size() != 32) {
    return fail(Code::kConflict,
                "the new generation does not follow the one before: it must be the "
                "next one of the same base under the same root key");
  }
  const std::string text = seam_text(body, roster->log.name);
  const auto signed_by = [&](const std::string& bytes, const PublicKey& key) {
    const auto signature = array_of<64>(bytes, "signature");
    return signature && verify(key, text, Signature{*signature});
  };
  if (!signed_by(body.new_signature(), roster->log.key) ||
      (!body.old_signature().empty() && !signed_by(body.old_signature(), old.log.key))) {
    return fail(Code::kCorrupt, "the seam between two generations is not signed by their log keys");
  }
  return roster;
}

}  // namespace fairlead::record
