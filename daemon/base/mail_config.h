// What of the settings file is about summaries that go out by themselves: [mail] and [[schedule]].
// The keys stand in config_schema.cpp with all others.
//
// Threads: values only. Errors: as load_config, "file:line: key: what; what to do".
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/result.h"

namespace fairlead {

/// Where summaries are mailed from. Without a server they go to the outbox folder only.
struct MailConfig {
  std::string server;  // smtp://HOST:PORT (STARTTLS) or smtps://HOST:PORT.
  std::string from;
  std::string user;
  std::filesystem::path password_file;
  std::filesystem::path ca;  // Authority of the server; empty: the system's.
  bool tls = true;           // False only for a server on this machine.
};

/// A summary that goes out by itself.
struct ScheduleConfig {
  std::string name;
  std::string every = "monthly";     // weekly, monthly, quarterly
  std::string zone = "UTC";          // IANA name, "Europe/Dublin".
  std::vector<std::string> to = {};  // Empty: outbox folder only.
  std::string paper = "A4";
};

struct MailSettings {
  MailConfig mail;
  std::vector<ScheduleConfig> schedules;
};

/// Of a settings file that load_config has taken; an empty path is no file.
[[nodiscard]] Result<MailSettings> load_mail_settings(const std::filesystem::path& file);
[[nodiscard]] Result<MailSettings> mail_settings_from_text(std::string_view text,
                                                           const std::string& file_name,
                                                           const std::filesystem::path& folder);

}  // namespace fairlead
