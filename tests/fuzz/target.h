// What a fuzz target gives: one function that takes hostile bytes, and well-formed inputs to start
// from. A broken promise inside the function ends the process through `require`.
//
// Threads: one.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size);

namespace fairlead::fuzz {

/// Well-formed inputs of this format, at least one; the same on every call.
[[nodiscard]] std::vector<std::string> seeds();

inline std::string_view view(const uint8_t* data, size_t size) {
  return {reinterpret_cast<const char*>(data), size};
}

inline void require(bool holds, const char* promise) {
  if (holds) return;
  std::fprintf(stderr, "broken promise: %s\n", promise);
  std::abort();
}

}  // namespace fairlead::fuzz
