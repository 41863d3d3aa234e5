// Byte strings: fixed arrays, views over them, lower-case hex, big-endian integers.
//
// Variable byte strings are std::string (as protobuf's bytes), inputs are std::string_view, and
// hashes, ids and keys are arrays so that a wrong length cannot be passed.
// Threads: pure functions.
#pragma once

#include <algorithm>
#include <array>
#include <cstdint>
#include <cstring>
#include <string>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead {

template <size_t N>
using ByteArray = std::array<uint8_t, N>;

template <size_t N>
[[nodiscard]] std::string_view view_of(const ByteArray<N>& bytes) {
  return {reinterpret_cast<const char*>(bytes.data()), N};
}
template <size_t N>
[[nodiscard]] std::string string_of(const ByteArray<N>& bytes) {
  return std::string(view_of(bytes));
}

/// Copies exactly N bytes. Errors: kBadInput when `bytes` has another length; `what` names it.
template <size_t N>
[[nodiscard]] Result<ByteArray<N>> array_of(std::string_view bytes, std::string_view what) {
  if (bytes.size() != N) {
    return fail(Code::kBadInput, std::string(what) + ": has " + std::to_string(bytes.size()) +
                                     " bytes; give exactly " + std::to_string(N));
  }
  ByteArray<N> out;
  std::memcpy(out.data(), bytes.data(), N);
  return out;
}

template <size_t N>
[[nodiscard]] bool is_zero(const ByteArray<N>& bytes) {
  return std::all_of(bytes.begin(), bytes.end(), [](uint8_t b) { return b == 0; });
}

[[nodiscard]] std::string hex_of(std::string_view bytes);
template <size_t N>
[[nodiscard]] std::string hex_of(const ByteArray<N>& bytes) {
  return hex_of(view_of(bytes));
}

/// Reads lower-case hex only, so that every value has one spelling. Errors: kBadInput.
[[nodiscard]] Result<std::string> bytes_of_hex(std::string_view hex, std::string_view what);
template <size_t N>
[[nodiscard]] Result<ByteArray<N>> array_of_hex(std::string_view hex, std::string_view what) {
  auto bytes = bytes_of_hex(hex, what);
  if (!bytes) return std::unexpected(bytes.error());
  return array_of<N>(*bytes, what);
}

/// Big-endian store and load of an unsigned integer at `at`; the caller guarantees the room.
template <typename T>
void put_be(uint8_t* at, T value) {
  for (size_t i = sizeof(T); i-- > 0; value = static_cast<T>(value >> (sizeof(T) > 1 ? 8 : 0))) {
    at[i] = static_cast<uint8_t>(value & 0xff);
  }
}
template <typename T>
[[nodiscard]] T get_be(const uint8_t* at) {
  T value = 0;
  for (size_t i = 0; i < sizeof(T); ++i) value = static_cast<T>((uint64_t{value} << 8) | at[i]);
  return value;
}
template <typename T>
void append_be(std::string& out, T value) {
  uint8_t bytes[sizeof(T)];
  put_be(bytes, value);
  out.append(reinterpret_cast<const char*>(bytes), sizeof(T));
}

}  // namespace fairlead
