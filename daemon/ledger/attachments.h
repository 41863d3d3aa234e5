// Attachments (photos, films) as files named by the SHA-256 of their content, outside the database:
// FOLDER/ab/abcd...; a file appears under its name only when all its bytes are on disk.
//
// Threads: any; an AttachmentWriter belongs to one thread at a time.
#pragma once

#include <filesystem>
#include <functional>
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
  AttachmentWriter(int fd, std::filesystem::path temporary, std::filesystem::path folder,
                   std::function<void(const Error&)> failed)
      : fd_(fd),
        temporary_(std::move(temporary)),
        folder_(std::move(folder)),
        failed_(std::move(failed)) {}
  [[nodiscard]] Result<Hash> finish_file();
  /// Tells of an error after which the disk cannot be trusted.
  void tell(const Error& error) const;

  int fd_ = -1;
  std::filesystem::path temporary_, folder_;
  std::function<void(const Error&)> failed_;
  Sha256 hash_;
  uint64_t bytes_ = 0;
};

class Attachments {
 public:
  /// `failed` hears of every error of the disk but a full one, from the thread that met it.
  explicit Attachments(std::filesystem::path folder,
                       std::function<void(const Error&)> failed = nullptr)
      : folder_(std::move(folder)), failed_(std::move(failed)) {}

  /// Makes the folder and removes what unfinished writers of an earlier run left.
  [[nodiscard]] Status prepare() const;
  [[nodiscard]] Result<AttachmentWriter> begin() const;
  [[nodiscard]] Result<Hash> put(std::string_view bytes) const;
  /// Errors: kNotFound; kCorrupt when the content is not that of the name.
  [[nodiscard]] Result<std::string> get(const Hash& sha256) const;
  [[nodiscard]] bool has(const Hash& sha256) const;
  /// Gone from the folder when it returns; one that is not here is no error.
  [[nodiscard]] Status remove(const Hash& sha256) const;
  /// Every file checked against its name; adds a line a problem, returns how many files there are.
  /// `go_on` is asked before each with the number done; false stops (kUnavailable).
  [[nodiscard]] Result<uint64_t> audit(std::vector<std::string>& problems,
                                       const std::function<bool(uint64_t)>& go_on = nullptr) const;

 private:
  std::filesystem::path folder_;
  std::function<void(const Error&)> failed_;
};

}  // namespace fairlead::ledger
