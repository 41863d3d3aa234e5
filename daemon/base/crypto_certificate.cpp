#include "daemon/base/crypto_certificate.h"

#include <openssl/err.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/x509v3.h>

#include <ctime>
#include <memory>

#include "daemon/base/certificate_slack.h"

namespace fairlead {
namespace {

template <typename T, void (*kFree)(T*)>
struct Freer {
  void operator()(T* it) const { kFree(it); }
};
template <typename T, void (*kFree)(T*)>
using Held = std::unique_ptr<T, Freer<T, kFree>>;

void free_bio(BIO* bio) { BIO_free_all(bio); }
using Bio = Held<BIO, free_bio>;
using Key = Held<EVP_PKEY, EVP_PKEY_free>;
using Cert = Held<X509, X509_free>;
using Request = Held<X509_REQ, X509_REQ_free>;
using Extension = Held<X509_EXTENSION, X509_EXTENSION_free>;

constexpr int64_t kAuthoritySeconds = 10LL * 365 * 86'400;

std::unexpected<Error> failed(const char* what) {
  const unsigned long number = ERR_get_error();
  ERR_clear_error();
  const char* why = number == 0 ? nullptr : ERR_reason_error_string(number);
  return fail(Code::kInternal,
              std::string("certificate: ") + what + (why ? std::string(": ") + why : ""));
}

std::unexpected<Error> not_a(const char* what) {
  ERR_clear_error();
  return fail(Code::kBadInput, std::string("is no ") + what + " in PEM; check the path");
}

Bio reading(std::string_view text) {
  return Bio(BIO_new_mem_buf(text.data(), static_cast<int>(text.size())));
}

std::string text_of(BIO* bio) {
  char* data = nullptr;
  const long size = BIO_get_mem_data(bio, &data);
  return {data, static_cast<size_t>(size)};
}

Result<Key> key_of(std::string_view pem) {
  const Bio bio = reading(pem);
  // No password is ever asked for: a key file is guarded by its mode.
  const auto refuse = [](char*, int, int, void*) { return 0; };
  Key key(PEM_read_bio_PrivateKey(bio.get(), nullptr, refuse, nullptr));
  if (!key) return not_a("private key");
  return key;
}

Result<Cert> certificate_of(std::string_view pem) {
  const Bio bio = reading(pem);
  Cert cert(PEM_read_bio_X509(bio.get(), nullptr, nullptr, nullptr));
  if (!cert) return not_a("certificate");
  return cert;
}

Result<std::string> pem_of(X509* cert) {
  const Bio bio(BIO_new(BIO_s_mem()));
  if (PEM_write_bio_X509(bio.get(), cert) != 1) return failed("cannot be written");
  return text_of(bio.get());
}

Status add_extension(X509* cert, X509* issuer, int kind, const std::string& value) {
  X509V3_CTX context;
  X509V3_set_ctx_nodb(&context);
  X509V3_set_ctx(&context, issuer, cert, nullptr, nullptr, 0);
  const Extension extension(X509V3_EXT_conf_nid(nullptr, &context, kind, value.c_str()));
  if (!extension || X509_add_ext(cert, extension.get(), -1) != 1) return failed(value.c_str());
  return {};
}

Status set_name(X509_NAME* name, const std::string& text) {
  const auto* bytes = reinterpret_cast<const unsigned char*>(text.data());
  if (X509_NAME_add_entry_by_NID(name, NID_commonName, MBSTRING_UTF8, bytes,
                                 static_cast<int>(std::min<size_t>(text.size(), 64)), -1, 0) != 1) {
    return failed("name");
  }
  return {};
}

// What every certificate has, whoever signs it.
Result<Cert> blank(EVP_PKEY* key, const std::string& name, int64_t from_s, int64_t until_s) {
  Cert cert(X509_new());
  auto serial = random_array<16>();
  serial[0] = static_cast<uint8_t>((serial[0] & 0x7f) | 0x40);  // Positive, RFC 5280 4.1.2.2.
  const std::unique_ptr<BIGNUM, Freer<BIGNUM, BN_free>> number(
      BN_bin2bn(serial.data(), static_cast<int>(serial.size()), nullptr));
  if (X509_set_version(cert.get(), X509_VERSION_3) != 1 ||
      BN_to_ASN1_INTEGER(number.get(), X509_get_serialNumber(cert.get())) == nullptr ||
      ASN1_TIME_set(X509_getm_notBefore(cert.get()), from_s) == nullptr ||
      ASN1_TIME_set(X509_getm_notAfter(cert.get()), until_s) == nullptr ||
      X509_set_pubkey(cert.get(), key) != 1) {
    return failed("cannot be filled in");
  }
  if (auto ok = set_name(X509_get_subject_name(cert.get()), name); !ok) {
    return std::unexpected(ok.error());
  }
  return cert;
}

Result<int64_t> seconds_of(const ASN1_TIME* time) {
  std::tm parts{};
  if (ASN1_TIME_to_tm(time, &parts) != 1) return fail(Code::kBadInput, "has no readable time");
  return int64_t{timegm(&parts)};
}

std::string is_address(const std::string& host) {
  const std::unique_ptr<ASN1_OCTET_STRING, Freer<ASN1_OCTET_STRING, ASN1_OCTET_STRING_free>> ip(
      a2i_IPADDRESS(host.c_str()));
  return ip ? "IP:" : "DNS:";
}

// Names come from is_identity_name or from here, so no comma can add another.
Result<std::string> alternative_names(const Grant& grant) {
  std::string out = "URI:" + format_identity(grant.identity);
  if (grant.identity.role != PeerRole::kBase) return out;
  out += ",DNS:" + server_name_of(grant.identity.base);
  for (const std::string& host : grant.hosts) {
    if (host.empty() || host.find_first_of(", \t\r\n;") != std::string::npos) {
      return fail(Code::kBadInput, "host '" + host + "' is no name or address");
    }
    out += "," + is_address(host) + host;
  }
  return out;
}

std::optional<std::string> uri_of(X509* cert) {
  const std::unique_ptr<GENERAL_NAMES, Freer<GENERAL_NAMES, GENERAL_NAMES_free>> names(
      static_cast<GENERAL_NAMES*>(X509_get_ext_d2i(cert, NID_subject_alt_name, nullptr, nullptr)));
  for (int i = 0; names && i < sk_GENERAL_NAME_num(names.get()); ++i) {
    const GENERAL_NAME* name = sk_GENERAL_NAME_value(names.get(), i);
    if (name->type != GEN_URI) continue;
    const ASN1_IA5STRING* text = name->d.uniformResourceIdentifier;
    return std::string(reinterpret_cast<const char*>(ASN1_STRING_get0_data(text)),
                       static_cast<size_t>(ASN1_STRING_length(text)));
  }
  return std::nullopt;
}

}  // namespace

Result<SecretText> make_tls_key() {
  const Key key(EVP_EC_gen("P-256"));
  const Bio bio(BIO_new(BIO_s_secmem()));
  if (!key || PEM_write_bio_PKCS8PrivateKey(bio.get(), key.get(), nullptr, nullptr, 0, nullptr,
                                            nullptr) != 1) {
    return failed("no key can be made");
  }
  return SecretText(text_of(bio.get()));
}

Result<std::string> make_request(std::string_view key_pem, const std::string& name) {
  const auto key = key_of(key_pem);
  if (!key) return std::unexpected(key.error());
  const Request request(X509_REQ_new());
  if (auto ok = set_name(X509_REQ_get_subject_name(request.get()), name); !ok) {
    return std::unexpected(ok.error());
  }
  const Bio bio(BIO_new(BIO_s_mem()));
  if (X509_REQ_set_pubkey(request.get(), key->get()) != 1 ||
      X509_REQ_sign(request.get(), key->get(), EVP_sha256()) == 0 ||
      PEM_write_bio_X509_REQ(bio.get(), request.get()) != 1) {
    return failed("no request can be made");
  }
  return text_of(bio.get());
}

Result<std::string> make_authority(std::string_view key_pem, const std::string& base,
                                   int64_t now_s) {
  const auto key = key_of(key_pem);
  if (!key) return std::unexpected(key.error());
  auto cert = blank(key->get(), "fairlead authority of " + base, 0, now_s + kAuthoritySeconds);
  if (!cert) return std::unexpected(cert.error());
  X509* raw = cert->get();
  X509_set_issuer_name(raw, X509_get_subject_name(raw));
  const Identity self{PeerRole::kBase, base, base};
  for (const auto& [kind, value] : std::initializer_list<std::pair<int, std::string>>{
           {NID_basic_constraints, "critical,CA:TRUE,pathlen:0"},
           {NID_key_usage, "critical,keyCertSign,cRLSign"},
           {NID_subject_alt_name, "URI:" + format_identity(self)},
           {NID_subject_key_identifier, "hash"}}) {
    if (auto ok = add_extension(raw, raw, kind, value); !ok) return std::unexpected(ok.error());
  }
  if (X509_sign(raw, key->get(), EVP_sha256()) == 0) return failed("cannot be signed");
  return pem_of(raw);
}

Result<std::string> issue_certificate(std::string_view authority_pem,
                                      std::string_view authority_key_pem,
                                      std::string_view request_pem, const Grant& grant) {
  const auto authority = certificate_of(authority_pem);
  if (!authority) return fail_at("the authority's certificate ", authority.error());
  const auto signer = key_of(authority_key_pem);
  if (!signer) return fail_at("the authority's key ", signer.error());
  const auto owner = read_certificate(authority_pem);
  if (!owner || !owner->authority || owner->identity.base != grant.identity.base ||
      X509_check_private_key(authority->get(), signer->get()) != 1) {
    ERR_clear_error();
    return fail(Code::kBadInput, "the authority is not that of base '" + grant.identity.base +
                                     "', or its key is another's");
  }
  const Bio bio = reading(request_pem);
  const Request request(PEM_read_bio_X509_REQ(bio.get(), nullptr, nullptr, nullptr));
  if (!request) return not_a("certificate request");
  EVP_PKEY* key = X509_REQ_get0_pubkey(request.get());
  if (key == nullptr || X509_REQ_verify(request.get(), key) != 1) {
    ERR_clear_error();
    return fail(Code::kBadInput, "the request is not signed by its own key; make it again");
  }
  const auto names = alternative_names(grant);
  if (!names) return std::unexpected(names.error());
  const bool server = grant.identity.role == PeerRole::kBase;
  // A truck whose clock has fallen back to 1970 must still find its base's certificate valid.
  auto cert = blank(key, std::string(role_word(grant.identity.role)) + " " + grant.identity.id,
                    server ? 0 : grant.from_s - kCertificateSlack_s, grant.until_s);
  if (!cert) return std::unexpected(cert.error());
  X509* raw = cert->get();
  X509_set_issuer_name(raw, X509_get_subject_name(authority->get()));
  for (const auto& [kind, value] : std::initializer_list<std::pair<int, std::string>>{
           {NID_basic_constraints, "critical,CA:FALSE"},
           {NID_key_usage, "critical,digitalSignature"},
           {NID_ext_key_usage, server ? "serverAuth" : "clientAuth"},
           {NID_subject_alt_name, *names},
           {NID_subject_key_identifier, "hash"},
           {NID_authority_key_identifier, "keyid"}}) {
    if (auto ok = add_extension(raw, authority->get(), kind, value); !ok) {
      return std::unexpected(ok.error());
    }
  }
  if (X509_sign(raw, signer->get(), EVP_sha256()) == 0) return failed("cannot be signed");
  return pem_of(raw);
}

Result<Certificate> read_certificate(std::string_view pem) {
  const auto cert = certificate_of(pem);
  if (!cert) return std::unexpected(cert.error());
  const auto uri = uri_of(cert->get());
  auto identity = parse_identity(uri.value_or(""));
  if (!identity) return std::unexpected(identity.error());
  const auto from = seconds_of(X509_get0_notBefore(cert->get()));
  const auto until = seconds_of(X509_get0_notAfter(cert->get()));
  if (!from || !until) return fail(Code::kBadInput, "certificate: has no readable time");
  ByteArray<32> digest{};
  unsigned size = 0;
  if (X509_digest(cert->get(), EVP_sha256(), digest.data(), &size) != 1) return failed("digest");
  return Certificate{std::move(*identity), X509_check_ca(cert->get()) == 1, *from, *until,
                     hex_of(digest)};
}

Result<bool> is_key_of(std::string_view certificate_pem, std::string_view key_pem) {
  const auto cert = certificate_of(certificate_pem);
  if (!cert) return std::unexpected(cert.error());
  const auto key = key_of(key_pem);
  if (!key) return std::unexpected(key.error());
  const bool fits = X509_check_private_key(cert->get(), key->get()) == 1;
  ERR_clear_error();
  return fits;
}

Result<bool> is_issued_by(std::string_view certificate_pem, std::string_view authority_pem) {
  const auto cert = certificate_of(certificate_pem);
  if (!cert) return std::unexpected(cert.error());
  const auto authority = certificate_of(authority_pem);
  if (!authority) return std::unexpected(authority.error());
  const bool good = X509_check_issued(authority->get(), cert->get()) == X509_V_OK &&
                    X509_verify(cert->get(), X509_get0_pubkey(authority->get())) == 1;
  ERR_clear_error();
  return good;
}

}  // namespace fairlead
