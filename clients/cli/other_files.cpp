#include "clients/cli/other_files.h"

#include <filesystem>

#include "clients/cli/base_call.h"
#include "daemon/judge/shipped.h"

namespace fairlead::cli {
namespace {

constexpr size_t kLongestFile = 1 << 20;

}  // namespace

Result<std::vector<v1::JudgeJobRequest::File>> other_files(
    const std::vector<std::string>& procedures, const std::vector<std::string>& registers) {
  std::vector<v1::JudgeJobRequest::File> out;
  for (const auto* names : {&procedures, &registers}) {
    for (const std::string& name : *names) {
      v1::JudgeJobRequest::File& file = out.emplace_back();
      const auto shipped = names == &procedures && !std::filesystem::exists(name)
                               ? judge::shipped_procedure(name)
                               : std::nullopt;
      if (shipped) {
        file.set_name(shipped->name);
        file.set_content(shipped->bytes);
        continue;
      }
      auto bytes = whole_file(name, kLongestFile);
      if (!bytes) return std::unexpected(bytes.error());
      file.set_name(std::filesystem::path(name).filename().string());
      file.set_content(std::move(*bytes));
    }
  }
  return out;
}

}  // namespace fairlead::cli
