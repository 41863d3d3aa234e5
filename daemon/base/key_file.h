// Secret keys and other small private files: mode 0600, made whole or not at all.
//
// Threads: free functions; two callers must not make the same file at the same time (the daemon
// holds its data folder's lock while it does).
#pragma once

#include <filesystem>
#include <string>
#include <string_view>

#include "daemon/base/crypto.h"
#include "daemon/base/result.h"

namespace fairlead {

/// Writes beside, fsyncs, renames, fsyncs the folder: after success the file is whole on disk.
/// Errors: kUnavailable on a full disk, kIo, naming the file.
[[nodiscard]] Status write_private_file(const std::filesystem::path& file, std::string_view bytes);

/// What was made or renamed in the folder survives a power cut. Errors: kIo naming the folder.
[[nodiscard]] Status sync_folder(const std::filesystem::path& folder);

/// Reads at most `longest` bytes. Errors: kNotFound, kIo, kBadInput when it is longer.
[[nodiscard]] Result<std::string> read_small_file(const std::filesystem::path& file,
                                                  size_t longest);

/// Reads the key, or makes one on first use. Errors: kDenied when others may read the file (the
/// message says which command mends it), kBadInput when it is no key, kIo.
[[nodiscard]] Result<SecretKey> load_or_make_key(const std::filesystem::path& file);

/// Exclusive use of a folder for this process, for the life of the object; makes the folder (0700).
class FolderLock {
 public:
  /// Errors: kConflict when another process holds it, kIo.
  [[nodiscard]] static Result<FolderLock> take(const std::filesystem::path& folder);
  FolderLock(FolderLock&& other) noexcept : fd_(std::exchange(other.fd_, -1)) {}
  FolderLock& operator=(FolderLock&&) = delete;
  ~FolderLock();

 private:
  explicit FolderLock(int fd) : fd_(fd) {}
  int fd_;
};

}  // namespace fairlead
