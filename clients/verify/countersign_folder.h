// A countersigner's folder: its key and, for each log, the head it cosigned last.
//
//   secret.key      the secret key, 0600
//   vkey            "NAME+HEX8+BASE64\n"
//   HEX16.cosigned  one a log, named by SHA-256(origin)[0..8]; under 300 bytes:
//                   "fairlead cosigned v1\nORIGIN\nSIZE\nBASE64(root)\nUNIX SECONDS\n"
// A .cosigned file that is lost or put back from an older copy forgets heads: a log could then have
// another history cosigned from there on. So the folder belongs into the countersigner's backup.
// Threads: one; the folder is locked while open, so two programs never answer at once.
#pragma once

#include <filesystem>

#include "clients/verify/countersign.h"
#include "daemon/base/key_file.h"

namespace fairlead::verifier {

class CountersignFolder {
 public:
  /// Makes folder and key. Errors: kConflict when there is a key of another name, kIo.
  [[nodiscard]] static Result<CountersignFolder> make(const std::filesystem::path& folder,
                                                      const std::string& name);
  /// Errors: kNotFound with what to do when there is no key; kDenied when others may read it.
  [[nodiscard]] static Result<CountersignFolder> open(const std::filesystem::path& folder);

  [[nodiscard]] const record::VerifierKey& key() const { return key_; }
  [[nodiscard]] const SecretKey& secret() const { return secret_; }

  /// size 0 when nothing was cosigned yet. Errors: kCorrupt naming the file.
  [[nodiscard]] Result<Standing> standing(const std::string& origin) const;
  /// On disk when it returns: written beside, synced, renamed.
  [[nodiscard]] Status keep(const std::string& origin, const Standing& standing) const;

 private:
  CountersignFolder(std::filesystem::path folder, FolderLock lock, record::VerifierKey key,
                    SecretKey secret)
      : folder_(std::move(folder)),
        lock_(std::move(lock)),
        key_(std::move(key)),
        secret_(std::move(secret)) {}
  [[nodiscard]] std::filesystem::path file_of(const std::string& origin) const;

  std::filesystem::path folder_;
  FolderLock lock_;
  record::VerifierKey key_;
  SecretKey secret_;
};

/// The whole errand: reads nothing but its arguments and the folder, persists, then answers with
/// the cosignature line. Errors: kConflict when `now_s` lies before the last cosignature; of the
/// folder. A refusal is no error.
[[nodiscard]] Result<std::variant<std::string, Refused>> countersign(
    const CountersignFolder& folder, std::string_view request,
    const std::vector<record::VerifierKey>& logs, uint64_t now_s);

}  // namespace fairlead::verifier
