#include "daemon/base/address.h"

#include <arpa/inet.h>
#include <fmt/format.h>

#include <charconv>
#include <cstring>

namespace fairlead {
namespace {

constexpr std::string_view kUnix = "unix:";
constexpr size_t kLongestSocketPath = 107;

bool is_loopback(const std::string& host) {
  in_addr four{};
  if (inet_pton(AF_INET, host.c_str(), &four) == 1) return (ntohl(four.s_addr) >> 24) == 127;
  in6_addr six{};
  if (inet_pton(AF_INET6, host.c_str(), &six) == 1) return IN6_IS_ADDR_LOOPBACK(&six);
  return host == "localhost";
}

Status check_unix(std::string_view path) {
  if (path.empty() || path.front() != '/') {
    return fail(Code::kBadInput,
                fmt::format("'unix:{}' needs an absolute path; write unix:/run/...", path));
  }
  if (path.size() > kLongestSocketPath) {
    return fail(
        Code::kBadInput,
        fmt::format("socket path has {} characters, at most {} fit; choose a shorter folder",
                    path.size(), kLongestSocketPath));
  }
  return {};
}

}  // namespace

bool is_unix_address(std::string_view address) { return address.starts_with(kUnix); }

Status check_address(std::string_view address) {
  if (is_unix_address(address)) return check_unix(address.substr(kUnix.size()));
  const size_t colon = address.rfind(':');
  if (colon == std::string_view::npos || colon == 0) {
    return fail(Code::kBadInput,
                fmt::format("'{}' is no address; write 127.0.0.1:7400 or unix:/path", address));
  }
  const std::string_view port = address.substr(colon + 1);
  unsigned number = 0;
  const auto [end, error] = std::from_chars(port.data(), port.data() + port.size(), number);
  if (error != std::errc{} || end != port.data() + port.size() || number > 65'535) {
    return fail(Code::kBadInput,
                fmt::format("'{}' is no port; write a number from 0 to 65535", port));
  }
  return {};
}

Status check_local_address(std::string_view address) {
  if (auto ok = check_address(address); !ok) return ok;
  if (is_unix_address(address)) return {};
  std::string host(address.substr(0, address.rfind(':')));
  if (host.size() > 2 && host.front() == '[' && host.back() == ']')
    host = host.substr(1, host.size() - 2);
  if (!is_loopback(host)) {
    return fail(
        Code::kDenied,
        fmt::format("'{}' can be reached from outside this machine, and that needs certificates: "
                    "set [tls] (fairlead enrol certificate makes its files), or use 127.0.0.1, "
                    "[::1] or a unix: socket",
                    address));
  }
  return {};
}

}  // namespace fairlead
