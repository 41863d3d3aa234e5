// The daemon's one settings file (TOML). Without a file it is a base on loopback with its ledger
// in a data folder. Unknown keys are errors that name the line and the nearest key.
//
// Threads: values only; load_config reads one file of at most 256 kB.
#pragma once

#include <cstdint>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/result.h"
#include "daemon/base/tls_files.h"

namespace fairlead {

enum class Role { kBase, kTruck };

/// A sensor plug-in the truck starts and supervises.
struct PluginConfig {
  std::string id;
  std::filesystem::path program;
  /// Handed to the plug-in as it stands: TOML text with its own names and values.
  std::string settings_toml;
  /// A missing required sensor is an event in the record and a red light.
  bool required = false;
};

/// Months that bodies are kept, counted from the closing of their job; on a truck days, counted
/// from the base's receipt.
struct RetentionConfig {
  bool on = true;
  int64_t job_months = 36;
  int64_t loose_strip_months = 3;  // Samples outside any job, counted from their arrival.
  int64_t truck_days = 30;
  int64_t truck_cosigned_days = 7;  // Where a countersigned head covers them.
};

/// When a full disk stops what. A base stops at the smaller of share and amount.
struct DiskConfig {
  int64_t attachments_percent = 15, attachments_mib = 5'120;
  int64_t entries_percent = 5, entries_mib = 1'024;
  int64_t ballast_mib = 64;
  int64_t truck_reserve_mib = 256;
  int64_t look_every_ms = 1'000;
  int64_t scrub_days = 7;
};

/// An outside party that countersigns heads: its key line, and where a witness of its answers over
/// HTTP (empty: by files), with the authority of that address (empty: the system's).
struct CountersignerConfig {
  std::string vkey;
  std::string url;
  std::filesystem::path ca;
};

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
  std::string every = "monthly";  // weekly, monthly, quarterly
  std::string zone = "UTC";       // IANA name, "Europe/Dublin".
  std::vector<std::string> to;    // Empty: outbox folder only.
  std::string paper = "A4";
};

struct Config {
  Role role = Role::kBase;
  std::string name = "base";
  std::filesystem::path data = "fairlead-data";
  /// "127.0.0.1:7400", "[::1]:7400" or "unix:/path"; empty = the role's default, see load_config.
  std::string listen;
  /// Certificates of this end: a base that has them listens with TLS and takes callers on this
  /// machine at unix:DATA/base.sock; a truck dials with them.
  TlsPaths tls;
  /// Only where nothing beyond this machine can call.
  bool enrol_on_first_contact = true;
  std::vector<std::filesystem::path> procedures;
  std::vector<std::filesystem::path> register_files;
  /// Truck only: where the base listens, and the longest wait between attempts.
  std::string base_address = "127.0.0.1:7400";
  int64_t reconnect_longest_ms = 10'000;
  int64_t strip_span_ms = 10'000;
  RetentionConfig retention;
  DiskConfig disk;
  std::vector<PluginConfig> plugins;
  /// Option --alone, not a key: the base signs without having asked anybody for a later head.
  bool alone = false;
  /// Base only: who countersigns heads, and how many of them must.
  std::vector<CountersignerConfig> countersigners;
  int64_t countersign_threshold = 1;
  /// Base only: summaries that go out by themselves.
  MailConfig mail;
  std::vector<ScheduleConfig> schedules;
};

/// One row of the schema: what a key means and what holds when it is absent.
struct ConfigKey {
  std::string_view section, name, meaning, fallback;
};
[[nodiscard]] const std::vector<ConfigKey>& config_keys();

/// A commented file with every key at its default.
[[nodiscard]] std::string sample_config();

/// Relative paths in the file are taken from the file's own folder. Errors: kBadInput
/// "file:line: key: what; what to do"; kIo when the file cannot be read.
[[nodiscard]] Result<Config> load_config(const std::filesystem::path& file);
[[nodiscard]] Result<Config> config_from_text(std::string_view text, const std::string& file_name,
                                              const std::filesystem::path& folder);
/// What holds with no file at all.
[[nodiscard]] Config default_config();

}  // namespace fairlead
