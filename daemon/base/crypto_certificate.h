// X.509 certificates (RFC 5280) for mutual TLS: the base's own authority and what it issues. Keys
// are ECDSA on P-256, names are one URI (identity.h) and, for a base, its DNS names.
//
// Signing keys of the record are another matter (crypto.h): a certificate opens a connection, it
// never signs an entry.
// Threads: free functions, any thread. Times: Unix seconds. Secrets come and go as SecretText.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/crypto.h"
#include "daemon/base/identity.h"

namespace fairlead {

/// A new key, PKCS #8 in PEM.
[[nodiscard]] Result<SecretText> make_tls_key();

/// A certificate request (PKCS #10, PEM) that shows possession of the key.
[[nodiscard]] Result<std::string> make_request(std::string_view key_pem, const std::string& name);

/// The base's own authority: signs itself, valid ten years.
[[nodiscard]] Result<std::string> make_authority(std::string_view key_pem, const std::string& base,
                                                 int64_t now_s);

struct Grant {
  Identity identity;
  /// Of a base only: names and addresses a browser may dial, beside server_name_of.
  std::vector<std::string> hosts;
  int64_t from_s = 0;
  int64_t until_s = 0;
};

/// Issues a certificate for the key of `request_pem` (its signature is checked, its names are not
/// used). Errors: kBadInput naming what is no certificate, key or request, or an authority of
/// another base.
[[nodiscard]] Result<std::string> issue_certificate(std::string_view authority_pem,
                                                    std::string_view authority_key_pem,
                                                    std::string_view request_pem,
                                                    const Grant& grant);

struct Certificate {
  Identity identity;  // Of an authority: role base, id = base.
  bool authority = false;
  int64_t from_s = 0;
  int64_t until_s = 0;
  std::string fingerprint;  // SHA-256 of the DER form, hex.
};

/// The first certificate of a PEM text. Errors: kBadInput.
[[nodiscard]] Result<Certificate> read_certificate(std::string_view pem);

/// True when the certificate was made for this key. Errors: kBadInput for what is neither.
[[nodiscard]] Result<bool> is_key_of(std::string_view certificate_pem, std::string_view key_pem);

/// True when the authority signed it. Errors: kBadInput.
[[nodiscard]] Result<bool> is_issued_by(std::string_view certificate_pem,
                                        std::string_view authority_pem);

}  // namespace fairlead
