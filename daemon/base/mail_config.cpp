#include "daemon/base/mail_config.h"

#include <fmt/format.h>
#include <toml++/toml.h>

#include <algorithm>
#include <cctype>
#include <fstream>
#include <iterator>

#include "daemon/base/config.h"
#include "daemon/base/nearest.h"

namespace fairlead {
namespace {

// Also keeps line ends, and with them header lines, out of what is sent.
bool is_mail_address(const std::string& text) {
  const size_t at = text.find('@');
  return at != std::string::npos && at > 0 && at + 1 < text.size() && text.size() <= 254 &&
         text.find('@', at + 1) == std::string::npos &&
         std::ranges::all_of(text, [](unsigned char c) {
           return c > ' ' && c < 0x7f &&
                  std::string_view("<>()[],;:\\\"").find(static_cast<char>(c)) ==
                      std::string_view::npos;
         });
}

class Reader {
 public:
  Reader(std::string file, std::filesystem::path folder)
      : file_(std::move(file)), folder_(std::move(folder)) {}

  Status read(const toml::table& root, MailSettings& out) {
    if (const toml::node* node = root.get("mail"); node != nullptr) {
      if (!node->is_table()) return wrong(*node, "mail", "must be a section; write [mail]");
      if (auto ok = read_mail(*node->as_table(), out.mail); !ok) return ok;
    }
    const toml::node* node = root.get("schedule");
    if (node == nullptr) return {};
    if (!node->is_array_of_tables())
      return wrong(*node, "schedule", "must be a list of tables; write [[schedule]]");
    for (const toml::node& item : *node->as_array()) {
      if (auto ok = read_schedule(item, out); !ok) return ok;
    }
    return {};
  }

 private:
  Status read_mail(const toml::table& table, MailConfig& mail) {
    if (auto ok = check_names(table, "mail"); !ok) return ok;
    std::string password_file, ca;
    for (auto [name, into] : {std::pair{"server", &mail.server}, std::pair{"from", &mail.from},
                              std::pair{"user", &mail.user},
                              std::pair{"password_file", &password_file}, std::pair{"ca", &ca}}) {
      if (auto ok = text(table, name, *into); !ok) return ok;
    }
    if (!password_file.empty()) mail.password_file = folder_ / password_file;
    if (!ca.empty()) mail.ca = folder_ / ca;
    if (const toml::node* node = table.get("tls"); node != nullptr) {
      if (!node->is_boolean()) return wrong(*node, "mail.tls", "must be true or false");
      mail.tls = *node->value<bool>();
    }
    if (mail.server.empty()) return {};
    const bool secure = mail.server.starts_with("smtps://");
    if (!secure && !mail.server.starts_with("smtp://"))
      return wrong(table, "mail.server", "must begin with smtp:// or smtps://");
    if (!is_mail_address(mail.from))
      return wrong(table, "mail.from", "is no address; write base@example.org");
    const std::string host = mail.server.substr(mail.server.find("//") + 2);
    const bool here = host.starts_with("127.0.0.1:") || host.starts_with("[::1]:");
    if (!mail.tls && (secure || !here))
      return wrong(table, "mail.tls", "may be false only for smtp:// on 127.0.0.1 or [::1]");
    return {};
  }

  Status read_schedule(const toml::node& item, MailSettings& out) {
    const toml::table& table = *item.as_table();
    if (auto ok = check_names(table, "schedule"); !ok) return ok;
    ScheduleConfig one;
    for (auto [name, into] : {std::pair{"name", &one.name}, std::pair{"every", &one.every},
                              std::pair{"zone", &one.zone}, std::pair{"paper", &one.paper}}) {
      if (auto ok = text(table, name, *into); !ok) return ok;
    }
    if (const toml::node* node = table.get("to"); node != nullptr) {
      if (!node->is_array()) return wrong(*node, "schedule.to", "must be a list of addresses");
      for (const toml::node& address : *node->as_array())
        one.to.push_back(address.value_exact<std::string>().value_or(""));
    }
    if (auto ok = check(item, one, out); !ok) return ok;
    out.schedules.push_back(std::move(one));
    return {};
  }

  Status check(const toml::node& item, const ScheduleConfig& one, const MailSettings& all) {
    const bool plain = std::ranges::all_of(
        one.name, [](unsigned char c) { return c < 0x80 && (std::isalnum(c) != 0 || c == '-'); });
    if (one.name.empty() || one.name.size() > 40 || !plain)
      return wrong(item, "schedule.name", "must be 1 to 40 letters, digits or '-'");
    if (std::ranges::any_of(all.schedules,
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
    if (!one.to.empty() && all.mail.server.empty())
      return wrong(item, "schedule.to", "needs a [mail] section with a server");
    return {};
  }

  Status check_names(const toml::table& table, std::string_view section) {
    std::vector<std::string_view> known;
    for (const ConfigKey& key : config_keys()) {
      if (key.section == section) known.push_back(key.name);
    }
    for (const auto& [name, value] : table) {
      if (std::ranges::find(known, name.str()) != known.end()) continue;
      const std::string best = nearest(name.str(), known);
      return fail(
          Code::kBadInput,
          fmt::format("{}:{}: {}.{}: unknown key{}", file_, name.source().begin.line, section,
                      name.str(), best.empty() ? "" : fmt::format("; the nearest is '{}'", best)));
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

  Status wrong(const toml::node& node, std::string_view name, const std::string& words) {
    return fail(Code::kBadInput,
                fmt::format("{}:{}: {}: {}", file_, node.source().begin.line, name, words));
  }

  std::string file_;
  std::filesystem::path folder_;
};

}  // namespace

Result<MailSettings> mail_settings_from_text(std::string_view text, const std::string& file_name,
                                             const std::filesystem::path& folder) {
  MailSettings out;
  try {
    const toml::table root = toml::parse(text, file_name);
    if (auto ok = Reader(file_name, folder).read(root, out); !ok)
      return std::unexpected(ok.error());
  } catch (const toml::parse_error& error) {
    return fail(Code::kBadInput, fmt::format("{}:{}: {}", file_name, error.source().begin.line,
                                             error.description()));
  }
  return out;
}

Result<MailSettings> load_mail_settings(const std::filesystem::path& file) {
  if (file.empty()) return MailSettings{};
  std::ifstream in(file, std::ios::binary);
  if (!in) return fail(Code::kIo, file.string() + ": cannot be read");
  const std::string text(std::istreambuf_iterator<char>(in), {});
  return mail_settings_from_text(text, file.string(),
                                 std::filesystem::absolute(file).parent_path());
}

}  // namespace fairlead
