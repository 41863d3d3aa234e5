#include "daemon/base/identity.h"

#include <algorithm>
#include <array>
#include <utility>

namespace fairlead {
namespace {

constexpr std::string_view kScheme = "fairlead://";
constexpr size_t kLongestName = 64;
constexpr std::array<std::pair<PeerRole, std::string_view>, 7> kWords = {{
    {PeerRole::kOwnerLocal, "owner-local"},
    {PeerRole::kBase, "base"},
    {PeerRole::kOwner, "owner"},
    {PeerRole::kOperator, "operator"},
    {PeerRole::kTruck, "truck"},
    {PeerRole::kInsurer, "insurer"},
    {PeerRole::kService, "service"},
}};

bool is_device_id(std::string_view text) {
  return text.size() == 32 && text.find_first_not_of("0123456789abcdef") == std::string_view::npos;
}

}  // namespace

std::string_view role_word(PeerRole role) {
  return std::ranges::find(kWords, role, &std::pair<PeerRole, std::string_view>::first)->second;
}

std::optional<PeerRole> role_of_word(std::string_view word) {
  for (const auto& [role, name] : kWords) {
    if (name == word && role != PeerRole::kOwnerLocal) return role;
  }
  return std::nullopt;
}

bool is_identity_name(std::string_view text) {
  return !text.empty() && text.size() <= kLongestName && std::ranges::all_of(text, [](char c) {
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
           c == '.' || c == '_';
  });
}

std::string format_identity(const Identity& identity) {
  std::string out(kScheme);
  out += identity.base;
  out += '/';
  out += role_word(identity.role);
  return out + '/' + identity.id;
}

Result<Identity> parse_identity(std::string_view uri) {
  const auto bad = [] {
    return fail(
        Code::kBadInput,
        "the certificate's name is not fairlead://BASE/ROLE/ID; make it with fairlead enrol "
        "certificate");
  };
  if (!uri.starts_with(kScheme)) return bad();
  uri.remove_prefix(kScheme.size());
  const size_t one = uri.find('/');
  const size_t two = one == std::string_view::npos ? one : uri.find('/', one + 1);
  if (two == std::string_view::npos) return bad();
  const auto role = role_of_word(uri.substr(one + 1, two - one - 1));
  Identity out{role.value_or(PeerRole::kOwner), std::string(uri.substr(0, one)),
               std::string(uri.substr(two + 1))};
  if (!role || !is_identity_name(out.base) || !is_identity_name(out.id)) return bad();
  if (*role == PeerRole::kTruck && !is_device_id(out.id)) return bad();
  return out;
}

std::string server_name_of(std::string_view base) { return std::string(base) + ".fairlead"; }

}  // namespace fairlead
