#include "daemon/base/tls_files.h"

#include <fmt/format.h>
#include <sys/stat.h>

#include <cerrno>
#include <cstdlib>
#include <ctime>

#include "daemon/base/key_file.h"
#include "daemon/base/time_text.h"

namespace fairlead {
namespace {

constexpr size_t kLongest = 64 * 1024;

Result<std::string> read_pem(const std::filesystem::path& file, std::string_view what) {
  if (file.empty()) {
    return fail(Code::kBadInput,
                fmt::format("tls: {} is missing; name certificate, key and ca", what));
  }
  return read_small_file(file, kLongest);
}

Status check_span(const Certificate& own, const std::filesystem::path& file) {
  const int64_t now_s = std::time(nullptr);
  const auto day = [](int64_t seconds) {
    return format_time_us(seconds * 1'000'000).substr(0, 10);
  };
  if (now_s > own.until_s) {
    return fail(Code::kBadInput,
                fmt::format("{}: this certificate expired on {}; issue a new one with fairlead "
                            "enrol certificate",
                            file.string(), day(own.until_s)));
  }
  if (now_s < own.from_s) {
    return fail(Code::kBadInput,
                fmt::format("{}: this certificate is not valid before {}; check this machine's "
                            "clock",
                            file.string(), day(own.from_s)));
  }
  return {};
}

}  // namespace

Result<SecretText> read_secret_file(const std::filesystem::path& file) {
  struct stat info{};
  if (::stat(file.c_str(), &info) == 0 && (info.st_mode & 077) != 0) {
    return fail(Code::kDenied,
                fmt::format("{}: others may read this secret key; run chmod 600 on it, and replace "
                            "the key if anybody did",
                            file.string()));
  }
  auto text = read_small_file(file, kLongest);
  if (!text) return std::unexpected(text.error());
  return SecretText(std::move(*text));
}

Result<std::shared_ptr<const TlsFiles>> load_tls_files(const TlsPaths& paths) {
  auto certificate = read_pem(paths.certificate, "certificate");
  if (!certificate) return std::unexpected(certificate.error());
  auto ca = read_pem(paths.ca, "ca");
  if (!ca) return std::unexpected(ca.error());
  if (paths.key.empty()) {
    return fail(Code::kBadInput, "tls: key is missing; name certificate, key and ca");
  }
  auto key = read_secret_file(paths.key);
  if (!key) return std::unexpected(key.error());
  auto own = read_certificate(*certificate);
  if (!own) return fail_at(paths.certificate.string() + ": ", own.error());
  const auto fits = is_key_of(*certificate, key->view());
  if (!fits) return fail_at(paths.key.string() + ": ", fits.error());
  if (!*fits) {
    return fail(Code::kBadInput, fmt::format("{}: is not the key {} was made for",
                                             paths.key.string(), paths.certificate.string()));
  }
  const auto issued = is_issued_by(*certificate, *ca);
  if (!issued) return fail_at(paths.ca.string() + ": ", issued.error());
  if (!*issued) {
    return fail(Code::kBadInput,
                fmt::format("{}: did not issue {}; use the authority's file of the "
                            "same base",
                            paths.ca.string(), paths.certificate.string()));
  }
  if (auto ok = check_span(*own, paths.certificate); !ok) return std::unexpected(ok.error());
  return std::make_shared<const TlsFiles>(
      TlsFiles{std::move(*certificate), std::move(*ca), std::move(*key), std::move(*own)});
}

void require_tls13() { ::setenv("GRPC_SSL_CIPHER_SUITES", "PSK-AES128-GCM-SHA256", 1); }

}  // namespace fairlead
