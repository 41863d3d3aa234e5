#include "clients/cli/text_files.h"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <sstream>

#include "daemon/base/nearest.h"
#include "daemon/judge/shipped.h"

namespace fairlead::cli {

namespace fs = std::filesystem;

Result<std::string> read_file(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  if (!in)
    return fail(Code::kNotFound, fmt::format("{}: cannot be read; check the path", path.string()));
  std::ostringstream bytes;
  bytes << in.rdbuf();
  return bytes.str();
}

Result<judge::SourceFile> procedure_file(const std::string& name) {
  if (fs::is_regular_file(name)) {
    auto bytes = read_file(name);
    if (!bytes) return std::unexpected(bytes.error());
    return judge::SourceFile{name, std::move(*bytes)};
  }
  if (auto shipped = judge::shipped_procedure(name)) return *shipped;
  const std::vector<std::string> ids = judge::shipped_procedure_ids();
  const std::vector<std::string_view> words(ids.begin(), ids.end());
  const std::string hint = suggestion(name, words);
  return fail(
      Code::kNotFound,
      fmt::format("--procedure: '{}' is neither a file nor a shipped procedure; {}{}shipped "
                  "are {}",
                  name, hint, hint.empty() ? "" : "; ", fmt::join(ids, ", ")));
}

Result<std::vector<std::string>> text_paths(const std::vector<std::string>& names) {
  std::vector<std::string> out;
  for (const std::string& name : names) {
    if (!fs::is_directory(name)) {
      out.push_back(name);
      continue;
    }
    std::vector<std::string> paths;
    for (const auto& entry : fs::recursive_directory_iterator(name)) {
      if (entry.path().extension() == ".textproto") paths.push_back(entry.path().string());
    }
    std::sort(paths.begin(), paths.end());
    if (paths.empty())
      return fail(Code::kNotFound,
                  fmt::format("folder '{}' holds no .textproto file; name one that does", name));
    out.insert(out.end(), paths.begin(), paths.end());
  }
  return out;
}

Result<std::vector<judge::SourceFile>> register_files(const std::vector<std::string>& names) {
  const auto paths = text_paths(names);
  if (!paths) return fail_at("--register: ", paths.error());
  std::vector<judge::SourceFile> files;
  for (const std::string& path : *paths) {
    auto bytes = read_file(path);
    if (!bytes) return std::unexpected(bytes.error());
    files.push_back({path, std::move(*bytes)});
  }
  return files;
}

}  // namespace fairlead::cli
