#include <fmt/format.h>

#include "daemon/base/config.h"

namespace fairlead {

namespace {

// Summaries that go out by themselves.
const std::vector<ConfigKey> kMailKeys = {
    {"mail", "server",
     "smtp://HOST:PORT (with STARTTLS) or smtps://HOST:PORT; empty: summaries stay in the outbox "
     "folder",
     "\"\""},
    {"mail", "from", "the sender's address", "\"\""},
    {"mail", "user", "name to log in with; empty: none", "\"\""},
    {"mail", "password_file", "file that only its owner may read, with the password", "\"\""},
    {"mail", "ca",
     "file with the authority, in PEM, that vouches for the server; empty: the "
     "system's",
     "\"\""},
    {"mail", "tls", "false only for a server on this machine", "true"},
    {"schedule", "name", "letters, digits and '-'", "(required)"},
    {"schedule", "every", "weekly (from Monday), monthly or quarterly", "\"monthly\""},
    {"schedule", "zone", "whose midnight counts, such as Europe/Dublin", "\"UTC\""},
    {"schedule", "to",
     "addresses; nothing is sent before `fairlead schedule approve`; none: the outbox "
     "folder only",
     "[]"},
    {"schedule", "paper", "A4 or LETTER", "\"A4\""},
};

const std::vector<ConfigKey> kOtherKeys = {
    {"", "role", "base (the owner's daemon) or truck", "\"base\""},
    {"", "name", "the base's name, or the name the truck is enrolled by; no space, no '+'",
     "\"base\""},
    {"", "data", "folder for ledger, keys and reports", "\"fairlead-data\""},
    {"", "listen",
     "127.0.0.1:PORT, [::1]:PORT or unix:/path; with [tls] a base may listen on any HOST:PORT. "
     "A "
     "truck's default is the socket truck.sock in its data folder",
     "\"127.0.0.1:7400\""},
    {"tls", "certificate",
     "this end's certificate; with these three a base listens with mutual TLS 1.3 (and for "
     "callers on its own machine at base.sock in its data folder), a truck dials with it. "
     "fairlead enrol certificate makes the files",
     "\"\""},
    {"tls", "key", "its secret key, a file only its owner may read", "\"\""},
    {"tls", "ca", "certificate of the base's authority", "\"\""},
    {"base", "enrol_on_first_contact",
     "enrol an unknown truck when it first calls from this machine; a base that listens beyond "
     "it "
     "never does",
     "true"},
    {"base", "countersign_threshold", "how many of the countersigners must have signed a head",
     "1"},
    {"files", "procedures", "procedure files or folders put on record at start", "[]"},
    {"files", "register", "register files or folders put on record at start", "[]"},
    {"truck", "base", "where the base listens; any HOST:PORT with [tls]", "\"127.0.0.1:7400\""},
    {"truck", "reconnect_longest_ms", "longest wait between attempts to reach the base", "10000"},
    {"truck", "strip_span_ms", "span of sensor samples in one entry", "10000"},
    {"retention", "on", "erase bodies whose time is over, daily; a hold always wins", "true"},
    {"retention", "job_months", "months that a job's events, photos and samples are kept", "36"},
    {"retention", "loose_strip_months", "months that samples outside any job are kept", "3"},
    {"retention", "truck_days", "truck: days it keeps what the base has given a receipt for", "30"},
    {"retention", "truck_cosigned_days", "truck: the same where a countersigned head covers it",
     "7"},
    {"disk", "attachments_percent",
     "base: below this share of the disk, or below attachments_mib, photos are refused", "15"},
    {"disk", "attachments_mib", "the smaller of the two counts", "5120"},
    {"disk", "entries_percent",
     "base: below this share of the disk, or below entries_mib, entries are refused", "5"},
    {"disk", "entries_mib", "the smaller of the two counts", "1024"},
    {"disk", "ballast_mib", "base: set aside, freed to write down that the disk is full", "64"},
    {"disk", "truck_reserve_mib", "truck: kept for events when samples have filled the disk",
     "256"},
    {"disk", "look_every_ms", "how often free space is looked at", "1000"},
    {"disk", "scrub_days", "days between full re-readings of everything stored", "7"},
    {"countersigner", "vkey",
     "key line of a party that countersigns heads: NAME+HEX8+BASE64, as they hand it over",
     "(required)"},
    {"countersigner", "url",
     "where it answers as a C2SP tlog-witness, for `fairlead countersign push`; empty: by "
     "files",
     "\"\""},
    {"countersigner", "ca",
     "file with the authority, in PEM, that alone vouches for an https url; empty: the "
     "system's",
     "\"\""},
    {"plugin", "id", "name of the plug-in, its source in the record", "(required)"},
    {"plugin", "program", "executable started and supervised by the truck", "(required)"},
    {"plugin", "required", "its absence is an event in the record", "false"},
    {"plugin", "settings", "the plug-in's own names and values, a table such as [plugin.settings]",
     "{}"},
};

}  // namespace

// Every key of every section; `load_config` refuses whatever is not here.
const std::vector<ConfigKey>& config_keys() {
  static const std::vector<ConfigKey> kKeys = [] {
    std::vector<ConfigKey> keys = kOtherKeys;
    keys.insert(keys.end(), kMailKeys.begin(), kMailKeys.end());
    return keys;
  }();
  return kKeys;
}

std::string sample_config() {
  std::string text = "# Settings of fairleadd; every key at its default.\n";
  std::string_view section;
  for (const ConfigKey& key : config_keys()) {
    const bool plugin = key.section == "plugin",
               list = plugin || key.section == "countersigner" || key.section == "schedule";
    if (key.section != section) {
      section = key.section;
      text += plugin ? "\n# One table a sensor plug-in of the truck:\n# [[plugin]]\n"
              : key.section == "schedule"
                  ? "\n# One table a summary that goes out by itself:\n# [[schedule]]\n"
              : list ? "\n# One table a countersigner of the base:\n# [[countersigner]]\n"
                     : fmt::format("\n[{}]\n", section);
    }
    text += fmt::format("# {}\n{}{} = {}\n", key.meaning, list ? "# " : "", key.name, key.fallback);
  }
  return text;
}

}  // namespace fairlead
