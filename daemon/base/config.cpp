#include "daemon/base/config.h"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <fstream>
#include <sstream>

#include "daemon/base/address.h"
#include "daemon/base/nearest.h"

namespace fairlead {
namespace {

// toml++ recurses on nesting; a small cap keeps a hostile file from exhausting the stack.
constexpr size_t kLongestFile = 256 * 1024;
constexpr int64_t kDayMs = 86'400'000;

// One pass over the parsed file: the first problem stops it.
class Reader {
 public:
  Reader(std::string file, std::filesystem::path folder)
      : file_(std::move(file)), folder_(std::move(folder)) {}

  Status read(const toml::table& root, Config& config) {
    if (auto ok = check_names(root, ""); !ok) return ok;
    // What else may be said depends on it.
    if (auto ok = read_section_of(root, "tls", config); !ok) return ok;
    if (auto ok = read_top(root, config); !ok) return ok;
    for (const std::string_view section : {"base", "files", "truck", "retention", "disk", "mail"}) {
      if (auto ok = read_section_of(root, section, config); !ok) return ok;
    }
    if (auto ok = read_countersigners(root.get("countersigner"), config); !ok) return ok;
    if (auto ok = read_schedules(root.get("schedule"), config); !ok) return ok;
    return read_plugins(root.get("plugin"), config);
  }

 private:
  Status read_section_of(const toml::table& root, std::string_view section, Config& config) {
    const toml::node* node = root.get(section);
    if (node == nullptr) return {};
    if (!node->is_table())
      return wrong(*node, section, "must be a section; write [" + std::string(section) + "]");
    if (auto ok = check_names(*node->as_table(), section); !ok) return ok;
    return read_section(section, *node->as_table(), config);
  }

  Status read_top(const toml::table& root, Config& config) {
    std::string role = "base";
    if (auto ok = text(root, "role", role); !ok) return ok;
    if (role != "base" && role != "truck") {
      return wrong(*root.get("role"), "role",
                   fmt::format("'{}' is no role; write \"base\" or \"truck\"", role));
    }
    config.role = role == "truck" ? Role::kTruck : Role::kBase;
    if (config.role == Role::kTruck) config.name = "truck";
    if (auto ok = text(root, "name", config.name); !ok) return ok;
    if (config.name.empty() || config.name.size() > 64 ||
        config.name.find_first_of(" +/\t\n") != std::string::npos) {
      return wrong(
          *root.get("name"), "name",
          fmt::format(
              "'{}' cannot stand in the ledger's origin; use 1 to 64 letters, digits, '-' or '.'",
              config.name));
    }
    if (auto ok = path(root, "data", config.data); !ok) return ok;
    if (auto ok = text(root, "listen", config.listen); !ok) return ok;
    return address(root, "listen", config.listen,
                   config.role == Role::kBase && !config.tls.empty());
  }

  Status read_section(std::string_view section, const toml::table& table, Config& config) {
    if (section == "tls") {
      if (auto ok = path(table, "certificate", config.tls.certificate); !ok) return ok;
      if (auto ok = path(table, "key", config.tls.key); !ok) return ok;
      return path(table, "ca", config.tls.ca);
    }
    if (section == "base") {
      if (auto ok = whole(table, "countersign_threshold", 1, 15, config.countersign_threshold); !ok)
        return ok;
      return flag(table, "enrol_on_first_contact", config.enrol_on_first_contact);
    }
    if (section == "files") {
      if (auto ok = paths(table, "procedures", config.procedures); !ok) return ok;
      return paths(table, "register", config.register_files);
    }
    if (section == "retention") return read_retention(table, config.retention);
    if (section == "disk") return read_disk(table, config.disk);
    if (section == "mail") return read_mail(table, config.mail);
    if (auto ok = text(table, "base", config.base_address); !ok) return ok;
    if (auto ok = address(table, "base", config.base_address, !config.tls.empty()); !ok) return ok;
    if (auto ok = milliseconds(table, "reconnect_longest_ms", config.reconnect_longest_ms); !ok)
      return ok;
    return milliseconds(table, "strip_span_ms", config.strip_span_ms);
  }

  Status read_retention(const toml::table& table, RetentionConfig& config) {
    if (auto ok = flag(table, "on", config.on); !ok) return ok;
    if (auto ok = whole(table, "job_months", 1, 1'200, config.job_months); !ok) return ok;
    if (auto ok = whole(table, "loose_strip_months", 1, 1'200, config.loose_strip_months); !ok)
      return ok;
    if (auto ok = whole(table, "truck_days", 1, 365, config.truck_days); !ok) return ok;
    return whole(table, "truck_cosigned_days", 1, 365, config.truck_cosigned_days);
  }

  Status read_disk(const toml::table& table, DiskConfig& config) {
    constexpr int64_t kMostMib = int64_t{1} << 30;
    for (auto [name, most, into] :
         {std::tuple{"attachments_percent", int64_t{90}, &config.attachments_percent},
          std::tuple{"attachments_mib", kMostMib, &config.attachments_mib},
          std::tuple{"entries_percent", int64_t{90}, &config.entries_percent},
          std::tuple{"entries_mib", kMostMib, &config.entries_mib},
          std::tuple{"ballast_mib", int64_t{4'096}, &config.ballast_mib},
          std::tuple{"truck_reserve_mib", kMostMib, &config.truck_reserve_mib},
          std::tuple{"look_every_ms", kDayMs, &config.look_every_ms},
          std::tuple{"scrub_days", int64_t{3'650}, &config.scrub_days}}) {
      if (auto ok = whole(table, name, 1, most, *into); !ok) return ok;
    }
    return {};
  }

  Status read_countersigners(const toml::node* node, Config& config) {
    if (node == nullptr) return {};
    if (!node->is_array_of_tables())
      return wrong(*node, "countersigner", "must be a list of tables; write [[countersigner]]");
    for (const toml::node& item : *node->as_array()) {
      const toml::table& table = *item.as_table();
      if (auto ok = check_names(table, "countersigner"); !ok) return ok;
      CountersignerConfig one;
      if (auto ok = text(table, "vkey", one.vkey); !ok) return ok;
      if (auto ok = text(table, "url", one.url); !ok) return ok;
      std::string ca;
      if (auto ok = text(table, "ca", ca); !ok) return ok;
      if (!ca.empty()) one.ca = folder_ / ca;
      if (one.vkey.empty())
        return wrong(item, "countersigner.vkey", "is missing; give the countersigner's key line");
      if (!one.url.empty() && !one.url.starts_with("https://") && !one.url.starts_with("http://"))
        return wrong(*table.get("url"), "countersigner.url", "must begin with https:// or http://");
      if (!ca.empty() && !one.url.starts_with("https://"))
        return wrong(*table.get("ca"), "countersigner.ca", "is of a url that begins with https://");
      config.countersigners.push_back(std::move(one));
    }
    if (config.countersign_threshold > static_cast<int64_t>(config.countersigners.size())) {
      return wrong(*node, "base.countersign_threshold", "is above the number of countersigners");
    }
    return {};
  }

  Status read_mail(const toml::table& table, MailConfig& mail) {
    if (auto ok = text(table, "server", mail.server); !ok) return ok;
    if (auto ok = text(table, "from", mail.from); !ok) return ok;
    if (auto ok = text(table, "user", mail.user); !ok) return ok;
    if (auto ok = path(table, "password_file", mail.password_file); !ok) return ok;
    if (auto ok = path(table, "ca", mail.ca); !ok) return ok;
    if (auto ok = flag(table, "tls", mail.tls); !ok) return ok;
    if (mail.server.empty()) return {};
    const bool secure = mail.server.starts_with("smtps://");
    if (!secure && !mail.server.starts_with("smtp://"))
      return wrong(*table.get("server"), "mail.server", "must begin with smtp:// or smtps://");
    if (!is_mail_address(mail.from))
      return wrong(*table.get("server"), "mail.from", "is no address; write base@example.org");
    const std::string host = mail.server.substr(mail.server.find("//") + 2);
    const bool here = host.starts_with("127.0.0.1:") || host.starts_with("[::1]:");
    if (!mail.tls && (secure || !here))
      return wrong(*table.get("tls"), "mail.tls",
                   "may be false only for smtp:// on 127.0.0.1 or [::1]");
    return {};
  }

  // Also keeps line ends, and with them header lines, out of what is sent.
  static bool is_mail_address(const std::string& text) {
    const size_t at = text.find('@');
    return at != std::string::npos && at > 0 && at + 1 < text.size() && text.size() <= 254 &&
           text.find('@', at + 1) == std::string::npos &&
           std::ranges::all_of(text, [](unsigned char c) {
             return c > ' ' && c < 0x7f &&
                    std::string_view("<>()[],;:\\\"").find(static_cast<char>(c)) ==
                        std::string_view::npos;
           });
  }

  Status read_schedules(const toml::node* node, Config& config) {
    if (node == nullptr) return {};
    if (!node->is_array_of_tables())
      return wrong(*node, "schedule", "must be a list of tables; write [[schedule]]");
    for (const toml::node& item : *node->as_array()) {
      const toml::table& table = *item.as_table();
      if (auto ok = check_names(table, "schedule"); !ok) return ok;
      ScheduleConfig one;
      for (auto [name, into] : {std::pair{"name", &one.name}, std::pair{"every", &one.every},
                                std::pair{"zone", &one.zone}, std::pair{"paper", &one.paper}}) {
        if (auto ok = text(table, name, *into); !ok) return ok;
      }
      if (auto ok = texts(table, "to", one.to); !ok) return ok;
      if (auto ok = check_schedule(item, one, config); !ok) return ok;
      config.schedules.push_back(std::move(one));
    }
    return {};
  }

  Status check_schedule(const toml::node& item, const ScheduleConfig& one, const Config& config) {
    const bool plain = std::ranges::all_of(
        one.name, [](unsigned char c) { return (std::isalnum(c) != 0 && c < 0x80) || c == '-'; });
    if (one.name.empty() || one.name.size() > 40 || !plain)
      return wrong(item, "schedule.name", "must be 1 to 40 letters, digits or '-'");
    if (std::ranges::any_of(config.schedules,
                            [&](const auto& other) { return other.name == one.name; }))
      return wrong(item, "schedule.name", "'" + one.name + "' is there twice");
    if (one.every != "weekly" && one.every != "monthly" && one.every != "quarterly")
      return wrong(item, "schedule.every", "must be weekly, monthly or quarterly");
    if (one.paper != "A4" && one.paper != "LETTER")
      return wrong(item, "schedule.paper", "must be A4 or LETTER");
    for (const auto& address : one.to) {
      if (!is_mail_address(address))
        return wrong(item, "schedule.to", "'" + address + "' is no address");
    }
    if (!one.to.empty() && config.mail.server.empty())
      return wrong(item, "schedule.to", "needs a [mail] section with a server");
    return {};
  }

  Status texts(const toml::table& table, std::string_view name, std::vector<std::string>& into) {
    const toml::node* node = table.get(name);
    if (node == nullptr) return {};
    if (!node->is_array()) return wrong(*node, name, "must be a list of texts");
    for (const toml::node& item : *node->as_array()) {
      const auto value = item.value_exact<std::string>();
      if (!value) return wrong(item, name, "must be a list of texts in quotes");
      into.push_back(*value);
    }
    return {};
  }

  Status read_plugins(const toml::node* node, Config& config) {
    if (node == nullptr) return {};
    if (!node->is_array_of_tables())
      return wrong(*node, "plugin", "must be a list of tables; write [[plugin]]");
    for (const toml::node& item : *node->as_array()) {
      const toml::table& table = *item.as_table();
      if (auto ok = check_names(table, "plugin"); !ok) return ok;
      PluginConfig plugin;
      if (auto ok = text(table, "id", plugin.id); !ok) return ok;
      if (auto ok = path(table, "program", plugin.program); !ok) return ok;
      if (auto ok = flag(table, "required", plugin.required); !ok) return ok;
      if (auto ok = settings(table, plugin.settings_toml); !ok) return ok;
      if (plugin.id.empty()) return wrong(item, "plugin.id", "is missing; name the plug-in");
      if (plugin.program.empty())
        return wrong(item, "plugin.program", "is missing; name the executable");
      config.plugins.push_back(std::move(plugin));
    }
    return {};
  }

  Status settings(const toml::table& table, std::string& into) {
    const toml::node* node = table.get("settings");
    if (node == nullptr) return {};
    if (!node->is_table())
      return wrong(*node, "plugin.settings", "must be a table; write [plugin.settings]");
    std::ostringstream text;
    text << toml::toml_formatter{*node->as_table()} << '\n';
    into = text.str();
    return {};
  }

  Status check_names(const toml::table& table, std::string_view section) {
    std::vector<std::string_view> known;
    for (const ConfigKey& key : config_keys()) {
      if (key.section == section) known.push_back(key.name);
    }
    if (section.empty())
      known.insert(known.end(), {"base", "files", "tls", "truck", "retention", "disk",
                                 "countersigner", "plugin", "mail", "schedule"});
    for (const auto& [name, value] : table) {
      if (std::ranges::find(known, name.str()) != known.end()) continue;
      const std::string best = nearest(name.str(), known);
      const std::string hint = best.empty() ? "" : fmt::format("; the nearest is '{}'", best);
      const std::string full =
          section.empty() ? std::string(name.str()) : fmt::format("{}.{}", section, name.str());
      return fail(Code::kBadInput, fmt::format("{}:{}: {}: unknown key{}", file_,
                                               name.source().begin.line, full, hint));
    }
    return {};
  }

  Status text(const toml::table& table, std::string_view name, std::string& into) {
    const toml::node* node = table.get(name);
    if (node == nullptr) return {};
    const auto value = node->value_exact<std::string>();
    if (!value) return wrong(*node, name, "must be a text in quotes");
    into = *value;
    return {};
  }

  Status path(const toml::table& table, std::string_view name, std::filesystem::path& into) {
    std::string value;
    if (auto ok = text(table, name, value); !ok) return ok;
    if (!value.empty()) into = folder_ / value;
    return {};
  }

  Status paths(const toml::table& table, std::string_view name,
               std::vector<std::filesystem::path>& into) {
    const toml::node* node = table.get(name);
    if (node == nullptr) return {};
    if (!node->is_array()) return wrong(*node, name, "must be a list of paths");
    for (const toml::node& item : *node->as_array()) {
      const auto value = item.value_exact<std::string>();
      if (!value) return wrong(item, name, "must be a list of paths in quotes");
      into.push_back(folder_ / *value);
    }
    return {};
  }

  Status flag(const toml::table& table, std::string_view name, bool& into) {
    const toml::node* node = table.get(name);
    if (node == nullptr) return {};
    const auto value = node->value_exact<bool>();
    if (!value) return wrong(*node, name, "must be true or false");
    into = *value;
    return {};
  }

  Status milliseconds(const toml::table& table, std::string_view name, int64_t& into) {
    const toml::node* node = table.get(name);
    if (node == nullptr) return {};
    const auto value = node->value_exact<int64_t>();
    if (!value || *value < 1 || *value > kDayMs) {
      return wrong(*node, name, "must be whole milliseconds from 1 to 86400000");
    }
    into = *value;
    return {};
  }

  Status whole(const toml::table& table, std::string_view name, int64_t least, int64_t most,
               int64_t& into) {
    const toml::node* node = table.get(name);
    if (node == nullptr) return {};
    const auto value = node->value_exact<int64_t>();
    if (!value || *value < least || *value > most) {
      return wrong(*node, name, fmt::format("must be a whole number from {} to {}", least, most));
    }
    into = *value;
    return {};
  }

  Status address(const toml::table& table, std::string_view name, const std::string& value,
                 bool anywhere) {
    const toml::node* node = table.get(name);
    if (node == nullptr) return {};
    if (auto ok = anywhere ? check_address(value) : check_local_address(value); !ok) {
      return fail_at(fmt::format("{}:{}: {}: ", file_, node->source().begin.line, name),
                     ok.error());
    }
    return {};
  }

  Status wrong(const toml::node& node, std::string_view name, const std::string& words) {
    return fail(Code::kBadInput,
                fmt::format("{}:{}: {}: {}", file_, node.source().begin.line, name, words));
  }

  std::string file_;
  std::filesystem::path folder_;
};

// What the role implies where the file is silent.
void fill_defaults(Config& config) {
  if (!config.listen.empty()) return;
  config.listen = config.role == Role::kBase
                      ? "127.0.0.1:7400"
                      : "unix:" + (std::filesystem::absolute(config.data) / "truck.sock").string();
}

}  // namespace

Result<Config> config_from_text(std::string_view text, const std::string& file_name,
                                const std::filesystem::path& folder) {
  if (text.size() > kLongestFile) {
    return fail(Code::kBadInput,
                file_name + ": is larger than 256 kB; settings are short, check the path");
  }
  Config config;
  config.data = folder / config.data;
  try {
    const toml::table root = toml::parse(text, file_name);
    if (auto ok = Reader(file_name, folder).read(root, config); !ok)
      return std::unexpected(ok.error());
  } catch (const toml::parse_error& error) {
    return fail(Code::kBadInput,
                fmt::format("{}:{}: {}; see the sample of --print-config", file_name,
                            error.source().begin.line, error.description()));
  }
  fill_defaults(config);
  if (auto ok = check_address(config.listen); !ok) {
    return fail_at(file_name + ": listen: ", ok.error());
  }
  return config;
}

Result<Config> load_config(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in)
    return fail(Code::kIo, file.string() + ": cannot be read; check the path given to --config");
  std::string text(kLongestFile + 1, '\0');
  in.read(text.data(), static_cast<std::streamsize>(text.size()));
  text.resize(static_cast<size_t>(in.gcount()));
  return config_from_text(text, file.string(), std::filesystem::absolute(file).parent_path());
}

Config default_config() {
  Config config;
  fill_defaults(config);
  return config;
}

}  // namespace fairlead
