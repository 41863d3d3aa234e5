#include "daemon/base/revoked.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "daemon/base/certificate_slack.h"
#include "daemon/base/key_file.h"
#include "daemon/base/time_text.h"

namespace fairlead {
namespace {

constexpr size_t kLongest = size_t{1} << 20;
constexpr std::string_view kTitle = "# fairlead revoked certificates v1\n";

std::string name_of(const Identity& identity) {
  return std::string(role_word(identity.role)) + "/" + identity.id;
}

Result<std::map<std::string, int64_t>> read_list(const std::filesystem::path& file) {
  std::map<std::string, int64_t> out;
  const auto text = read_small_file(file, kLongest);
  if (!text && text.error().code == Code::kNotFound) return out;
  if (!text) return std::unexpected(text.error());
  std::string_view rest = *text;
  for (size_t number = 1; !rest.empty(); ++number) {
    const size_t end = std::min(rest.find('\n'), rest.size());
    const std::string_view line = rest.substr(0, end);
    rest.remove_prefix(std::min(end + 1, rest.size()));
    if (line.empty() || line.front() == '#') continue;
    const size_t space = std::min(line.find(' '), line.size());
    const std::string_view time = line.substr(std::min(space + 1, line.size()));
    int64_t until_s = 0;
    const auto [stop, error] = std::from_chars(time.data(), time.data() + time.size(), until_s);
    if (error != std::errc() || (stop != time.data() + time.size() && *stop != ' ')) {
      return fail(Code::kBadInput, fmt::format("{}:{}: write ROLE/ID and seconds since 1970",
                                               file.string(), number));
    }
    int64_t& known = out[std::string(line.substr(0, space))];
    known = std::max(known, until_s);
  }
  return out;
}

}  // namespace

void RevokedCertificates::read_if_changed() {
  std::error_code error;
  const auto written = std::filesystem::last_write_time(file_, error);
  const auto size = error ? 0 : std::filesystem::file_size(file_, error);
  const auto now = error ? std::filesystem::file_time_type{} : written;
  if (now == read_at_ && size == read_size_ && trouble_.empty()) return;
  read_at_ = now;
  read_size_ = size;
  auto list = read_list(file_);
  trouble_ = list ? "" : list.error().message;
  if (list) until_s_ = std::move(*list);
}

Status RevokedCertificates::check(const Identity& identity, std::string_view certificate_pem) {
  int64_t until_s = 0;
  {
    const std::lock_guard lock(mutex_);
    read_if_changed();
    if (!trouble_.empty()) {
      return fail(Code::kDenied,
                  "the base cannot read which certificates are revoked: " + trouble_);
    }
    const auto found = until_s_.find(name_of(identity));
    if (found == until_s_.end()) return {};
    until_s = found->second;
  }
  const auto certificate = read_certificate(certificate_pem);
  if (!certificate) return fail(Code::kDenied, certificate.error().message);
  if (certificate->from_s + kCertificateSlack_s > until_s) return {};
  return fail(Code::kDenied,
              fmt::format("the certificates of {} issued until {} are revoked; ask the owner for "
                          "a new one",
                          name_of(identity), format_time_us(until_s * 1'000'000)));
}

Status RevokedCertificates::add(const std::filesystem::path& data, const Identity& identity,
                                int64_t until_s, std::string_view words) {
  const auto file = file_in(data);
  if (const auto known = read_list(file); !known) return std::unexpected(known.error());
  auto text = read_small_file(file, kLongest);
  if (!text) text = std::string(kTitle);
  std::string line = fmt::format("{} {} {}", name_of(identity), until_s, words);
  std::ranges::replace(line, '\n', ' ');
  return write_private_file(file, *text + line + "\n");
}

}  // namespace fairlead
