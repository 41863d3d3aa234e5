// Bodies as the store keeps them: zstd where that is smaller. Commitments are over the plain bytes.
//
// Threads: a BodyCodec belongs to one thread at a time. Memory: at most a body's declared length.
#pragma once

#include <memory>
#include <string>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead::ledger {

enum class BodyForm : uint8_t { kPlain = 0, kZstd = 1 };

class BodyCodec {
 public:
  BodyCodec();
  ~BodyCodec();
  BodyCodec(BodyCodec&&) noexcept;

  /// Returns the form and leaves the bytes in `out`.
  BodyForm pack(std::string_view plain, std::string& out);
  /// Errors: kCorrupt when it does not unpack to exactly `size` bytes.
  [[nodiscard]] Result<std::string> unpack(BodyForm form, std::string_view stored, size_t size);

 private:
  struct Contexts;
  std::unique_ptr<Contexts> contexts_;
};

}  // namespace fairlead::ledger
