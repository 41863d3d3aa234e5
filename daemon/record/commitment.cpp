#include "daemon/record/commitment.h"

namespace fairlead::record {

Hash commit_body(const Salt& salt, std::string_view body) {
  return sha256({"fairlead/body/v1\n", view_of(salt), body});
}

Status bind_body(EntryHeader& header, const Salt& salt, std::string_view body) {
  if (body.size() > kMaxBodySize) {
    return fail(Code::kBadInput, "body of " + kind_name(header.kind) + ": has " +
                                     std::to_string(body.size()) + " bytes, more than the cap of " +
                                     std::to_string(kMaxBodySize) + "; split it over entries");
  }
  header.body_len = static_cast<uint32_t>(body.size());
  header.body_commit = commit_body(salt, body);
  return {};
}

bool body_matches(const EntryHeader& header, const Salt& salt, std::string_view body) {
  return body.size() == header.body_len && commit_body(salt, body) == header.body_commit;
}

}  // namespace fairlead::record
