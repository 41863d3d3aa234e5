// A client's settings for a base elsewhere: where it listens, and this person's certificate.
//
//   base = "lot.example:7400"
//   certificate = "tls.crt"     paths are taken from the file's own folder
//   key = "tls.key"
//   ca = "ca.crt"
// Threads: reads one file.
#pragma once

#include "daemon/base/tls_files.h"

namespace fairlead {

struct Profile {
  std::string base;
  TlsPaths tls;
};

/// Errors: kBadInput "file:line: key: what; what to do"; kNotFound, kIo.
[[nodiscard]] Result<Profile> load_profile(const std::filesystem::path& file);
/// The text load_profile reads, with paths beside it.
[[nodiscard]] std::string format_profile(const std::string& base);

}  // namespace fairlead
