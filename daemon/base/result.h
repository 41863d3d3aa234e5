// The one result type: a value or an Error. Nothing of ours throws.
//
// Threads: values only, no shared state.
#pragma once

#include <expected>
#include <string>
#include <utility>

namespace fairlead {

enum class Code {
  kBadInput,     // The caller's data is wrong; the message says which field and what to do.
  kNotFound,     // Named thing does not exist.
  kConflict,     // Same identity, other content.
  kUnavailable,  // Try again later (peer gone, disk full, busy).
  kIo,           // The system refused a read or write.
  kCorrupt,      // Stored bytes do not verify.
  kDenied,       // Not allowed for this identity.
  kInternal,     // A broken promise of our own.
};

/// Why something failed, in words for the person who has to act on it.
struct Error {
  Code code = Code::kInternal;
  std::string message;
};

template <typename T>
using Result = std::expected<T, Error>;
using Status = Result<void>;

[[nodiscard]] inline std::unexpected<Error> fail(Code code, std::string message) {
  return std::unexpected<Error>(Error{code, std::move(message)});
}

/// Puts where it happened before an inner error's words: "file.txt:3: " + message.
[[nodiscard]] inline std::unexpected<Error> fail_at(const std::string& where, Error inner) {
  return std::unexpected<Error>(Error{inner.code, where + inner.message});
}

}  // namespace fairlead
