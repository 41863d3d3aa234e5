// One HTTP(S) POST, with libcurl: certificates checked, no redirects, the answer capped.
//
// Threads: one at a time.
#pragma once

#include <chrono>
#include <string>

#include "daemon/base/result.h"

namespace fairlead::cli {

struct HttpAnswer {
  long status = 0;
  std::string body;  // At most 64 KiB.
};

/// Errors: kUnavailable when nobody answers in time or the line breaks: try again; kBadInput for a
/// URL that is none, an answer that is too long.
[[nodiscard]] Result<HttpAnswer> http_post(const std::string& url, const std::string& body,
                                           std::chrono::seconds timeout);

}  // namespace fairlead::cli
