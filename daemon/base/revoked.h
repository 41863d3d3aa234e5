// Certificates that count no longer: a list beside the base's data, written at the base's own
// machine by `fairlead enrol revoke-certificate`, read anew whenever it changes, so that what is on
// it is refused from the next call on, whatever connection it comes over.
//
//   # fairlead revoked certificates v1
//   ROLE/ID UNIX_SECONDS [words]     issued to this name at or before this time
//
// A certificate issued to the same name later is good again. A list that is there and cannot be
// read lets nobody in that has a certificate.
// Threads: any.
#pragma once

#include <cstdint>
#include <filesystem>
#include <map>
#include <mutex>
#include <string>

#include "daemon/base/crypto_certificate.h"

namespace fairlead {

class RevokedCertificates {
 public:
  /// Of the base with this data folder; the file need not be there.
  explicit RevokedCertificates(const std::filesystem::path& data) : file_(file_in(data)) {}

  [[nodiscard]] static std::filesystem::path file_in(const std::filesystem::path& data) {
    return data / "certificates.revoked";
  }
  /// Errors: kDenied in words for the caller when it is revoked, or nobody can tell.
  [[nodiscard]] Status check(const Identity& identity, std::string_view certificate_pem);

  /// Adds a line; durable when it returns. Errors: kBadInput for a list that cannot be read, kIo.
  [[nodiscard]] static Status add(const std::filesystem::path& data, const Identity& identity,
                                  int64_t until_s, std::string_view words);

 private:
  void read_if_changed();

  const std::filesystem::path file_;
  std::mutex mutex_;  // Guards what follows.
  std::filesystem::file_time_type read_at_{};
  uintmax_t read_size_ = 0;
  std::map<std::string, int64_t> until_s_;  // By "ROLE/ID".
  std::string trouble_;                     // Why the list cannot be read.
};

}  // namespace fairlead
