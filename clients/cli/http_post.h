// One HTTP(S) POST, with libcurl: certificates checked, no redirects, the answer capped. With `ca`
// (PEM) only what that authority signed is trusted, else what the system trusts.
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
/// URL that is none, a certificate nobody trusted signed, an answer that is too long.
[[nodiscard]] Result<HttpAnswer> http_post(const std::string& url, const std::string& body,
                                           std::chrono::seconds timeout,
                                           const std::string& ca = {});

}  // namespace fairlead::cli
