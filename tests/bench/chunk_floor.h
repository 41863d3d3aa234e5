// The floor of ingest: the same numbers as plain chunks in SQLite, nothing signed, checked or
// proven. One thread, WAL, synchronous FULL, groups of 64, packing in the loop.
//
// Threads: one at a time.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/base/result.h"

namespace fairlead::bench {

/// One signal over one span: times and values as they would be sent.
struct Chunk {
  int64_t series = 0;
  std::vector<int64_t> time_us, value;
};

/// Returns how many values were stored durably. Errors: kIo.
[[nodiscard]] Result<size_t> store_chunks(const std::filesystem::path& file,
                                          const std::vector<Chunk>& chunks);

}  // namespace fairlead::bench
