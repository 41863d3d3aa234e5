#include "daemon/ledger/sqlite/suspicion.h"

#include "daemon/base/key_file.h"

namespace fairlead::ledger {
namespace {

std::filesystem::path mark_of(const std::filesystem::path& folder) { return folder / "suspect"; }

}  // namespace

void mark_suspect(const std::filesystem::path& folder) {
  (void)write_private_file(mark_of(folder),
                           "A write failed. The next start reads everything again first.\n");
}

bool is_suspect(const std::filesystem::path& folder) {
  std::error_code error;
  return std::filesystem::exists(mark_of(folder), error);
}

Status clear_suspect(const std::filesystem::path& folder) {
  std::error_code error;
  std::filesystem::remove(mark_of(folder), error);
  if (!error) return {};
  return fail(Code::kIo, mark_of(folder).string() + ": cannot be removed (" + error.message() +
                             "); check the folder's permissions");
}

}  // namespace fairlead::ledger
