// A file's bytes, mapped read-only, so that a bundle of 4 GiB needs no memory of its own.
//
// Threads: read-only after open. Ownership: unmaps when destroyed.
#pragma once

#include <string>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead::verifier {

class MappedFile {
 public:
  /// Errors: kIo with the system's words; kBadInput for a folder or other odd file.
  [[nodiscard]] static Result<MappedFile> open(const std::string& path);
  MappedFile(MappedFile&& other) noexcept;
  MappedFile& operator=(MappedFile&&) = delete;
  ~MappedFile();
  [[nodiscard]] std::string_view bytes() const { return {data_, size_}; }

 private:
  MappedFile(const char* data, size_t size) : data_(data), size_(size) {}
  const char* data_;
  size_t size_;
};

}  // namespace fairlead::verifier
