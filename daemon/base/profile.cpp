#include "daemon/base/profile.h"

#include <fmt/format.h>
#include <toml++/toml.h>

#include "daemon/base/address.h"
#include "daemon/base/key_file.h"

namespace fairlead {
namespace {

constexpr size_t kLongest = 16 * 1024;

Status take(const toml::table& root, const std::filesystem::path& folder, Profile& profile) {
  for (const auto& [name, node] : root) {
    const auto text = node.value_exact<std::string>();
    const auto bad = [&](std::string_view what) {
      return fail(Code::kBadInput,
                  fmt::format("{}: {}: {}", node.source().begin.line, name.str(), what));
    };
    if (!text) return bad("must be a text in quotes");
    if (name == "base") {
      if (auto ok = check_address(*text); !ok) return bad(ok.error().message);
      profile.base = *text;
    } else if (name == "certificate") {
      profile.tls.certificate = folder / *text;
    } else if (name == "key") {
      profile.tls.key = folder / *text;
    } else if (name == "ca") {
      profile.tls.ca = folder / *text;
    } else {
      return bad("unknown key; a profile has base, certificate, key and ca");
    }
  }
  return {};
}

}  // namespace

Result<Profile> load_profile(const std::filesystem::path& file) {
  const auto text = read_small_file(file, kLongest);
  if (!text) return std::unexpected(text.error());
  Profile profile;
  try {
    const toml::table root = toml::parse(*text, file.string());
    const auto folder = std::filesystem::absolute(file).parent_path();
    if (auto ok = take(root, folder, profile); !ok) return fail_at(file.string() + ":", ok.error());
  } catch (const toml::parse_error& error) {
    return fail(Code::kBadInput, fmt::format("{}:{}: {}", file.string(), error.source().begin.line,
                                             error.description()));
  }
  return profile;
}

std::string format_profile(const std::string& base) {
  return fmt::format(
      "# Where the base listens, and this certificate. Use it: fairlead --profile FILE, or "
      "FAIRLEAD_PROFILE.\nbase = \"{}\"\ncertificate = \"tls.crt\"\nkey = \"tls.key\"\nca = "
      "\"ca.crt\"\n",
      base);
}

}  // namespace fairlead
