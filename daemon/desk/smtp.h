// One mail with files, handed to an SMTP server by libcurl: STARTTLS or TLS from the first byte,
// the server's certificate checked.
//
// Threads: any; blocks until the server has answered, at most 2 min. Errors: kUnavailable for what
// may go better later (no connection, a 4xx answer), kDenied for a 5xx answer, a certificate that
// does not hold or a refused login, kBadInput for settings or files that cannot be used.
#pragma once

#include <string>
#include <vector>

#include "daemon/base/config.h"
#include "daemon/base/result.h"

namespace fairlead::desk {

struct MailFile {
  std::string name, media_type, bytes;
};
struct Mail {
  std::vector<std::string> to;
  std::string subject, text;
  std::string id;  // Message-ID without its brackets: a mail sent twice has it twice.
  int64_t date_us = 0;
  std::vector<MailFile> files;
};

[[nodiscard]] Status send_mail(const MailConfig& config, const Mail& mail);

}  // namespace fairlead::desk
