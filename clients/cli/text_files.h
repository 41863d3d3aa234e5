// Procedure and register files as commands are given them: read whole, by path or shipped id.
//
// Threads: one. Errors: kNotFound, naming the option and what would do.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/judge/judge.h"

namespace fairlead::cli {

[[nodiscard]] Result<std::string> read_file(const std::filesystem::path& path);
/// A file, or the shipped procedure of that id.
[[nodiscard]] Result<judge::SourceFile> procedure_file(const std::string& name);
/// Each file, and in place of a folder every .textproto under it, sorted.
[[nodiscard]] Result<std::vector<std::string>> text_paths(const std::vector<std::string>& names);
/// Files, and every .textproto under folders, sorted.
[[nodiscard]] Result<std::vector<judge::SourceFile>> register_files(
    const std::vector<std::string>& names);

}  // namespace fairlead::cli
