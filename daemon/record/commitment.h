// Binds a body to its entry without showing it: SHA-256("fairlead/body/v1\n" || salt || body) over
// the plain protobuf bytes. Deleting body and salt erases the content and leaves every proof valid;
// the random salt keeps a short body from being guessed afterwards.
//
// Threads: pure functions.
#pragma once

#include <string_view>

#include "daemon/record/entry.h"

namespace fairlead::record {

using Salt = ByteArray<16>;

[[nodiscard]] Hash commit_body(const Salt& salt, std::string_view body);

/// Fills in body_len and body_commit. Errors: kBadInput for a body over kMaxBodySize.
[[nodiscard]] Status bind_body(EntryHeader& header, const Salt& salt, std::string_view body);

/// Length and commitment both agree.
[[nodiscard]] bool body_matches(const EntryHeader& header, const Salt& salt, std::string_view body);

}  // namespace fairlead::record
