// Certificate, key and authority of one end of mutual TLS, read from files and checked before use,
// so that what is wrong is said in words and not by a broken handshake.
//
// Threads: free functions, any thread; require_tls13 before the first connection is made.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "daemon/base/crypto_certificate.h"

namespace fairlead {

struct TlsPaths {
  std::filesystem::path certificate, key, ca;
  [[nodiscard]] bool empty() const { return certificate.empty() && key.empty() && ca.empty(); }
  bool operator==(const TlsPaths&) const = default;
};

struct TlsFiles {
  std::string certificate, ca;  // PEM.
  SecretText key{""};           // PEM.
  Certificate own;
};

/// Errors: kBadInput naming the file: missing, no certificate, another key, another authority,
/// expired (with the day); kDenied when others may read the key.
[[nodiscard]] Result<std::shared_ptr<const TlsFiles>> load_tls_files(const TlsPaths& paths);

/// A secret file's text, refused when others may read it. Errors: kNotFound, kDenied, kIo.
[[nodiscard]] Result<SecretText> read_secret_file(const std::filesystem::path& file);

/// Leaves TLS 1.3 as the only version this process can agree on. gRPC 1.51 has no setting for it:
/// its list for older versions gets one cipher that needs a pre-shared key, which nobody has; the
/// suites of TLS 1.3 are not governed by that list.
void require_tls13();

}  // namespace fairlead
