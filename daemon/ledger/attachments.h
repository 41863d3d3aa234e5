// Attachments (photos, films) as files named by the SHA-256 of their content, outside the database:
// FOLDER/ab/abcd...; a file appears under its name only when all its bytes are on disk.
//
// Threads: any; an AttachmentWriter belongs to one thread at a time.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/crypto.h"
#include "daemon/base/result.h"

namespace fairlead::ledger {

/// One attachment on its way in. Dropped unfinished, it leaves nothing.
class AttachmentWriter {
 public:
  AttachmentWriter(AttachmentWriter&& other) noexcept;
  AttachmentWriter& operator=(AttachmentWriter&&) = delete;
  ~AttachmentWriter();

  /// Errors: kIo, kUnavailable (disk full), kBadInput beyond kMostBytes.
  [[nodiscard]] Status write(std::string_view bytes);
  /// Syncs and names the file; returns the hash of its content. Durable when it returns.
  [[nodiscard]] Result<Hash> finish();

  static constexpr uint64_t kMostBytes = uint64_t{1} << 30;

 private:
  friend class Attachments;
  AttachmentWriter(int fd, std::filesystem::path temporary, std::filesystem::path folder)
      : fd_(fd), temporary_(std::move(temporary)), folder_(std::move(folder)) {}

  int fd_ = -1;
  std::filesystem::path temporary_, folder_;
  Sha256 hash_;
  uint64_t bytes_ = 0;
};

class Attachments {
 public:
  explicit Attachments(std::filesystem::path folder) : folder_(std::move(folder)) {}

  /// Makes the folder and removes what unfinished writers of an earlier run left.
  [[nodiscard]] Status prepare() const;
  [[nodiscard]] Result<AttachmentWriter> begin() const;
  [[nodiscard]] Result<Hash> put(std::string_view bytes) const;
  /// Errors: kNotFound; kCorrupt when the content is not that of the name.
  [[nodiscard]] Result<std::string> get(const Hash& sha256) const;
  [[nodiscard]] bool has(const Hash& sha256) const;
  /// Every file checked against its name; adds a line a problem, returns how many files there are.
  [[nodiscard]] Result<uint64_t> audit(std::vector<std::string>& problems) const;

 private:
  std::filesystem::path folder_;
};

}  // namespace fairlead::ledger
