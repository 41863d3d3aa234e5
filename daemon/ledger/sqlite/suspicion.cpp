#include "daemon/ledger/sqlite/suspicion.h"

#include <fcntl.h>
#include <unistd.h>

#include "daemon/base/key_file.h"

namespace fairlead::ledger {
namespace {

namespace fs = std::filesystem;

constexpr const char* kWords = "A write failed. The next start reads everything again first.\n";

fs::path mark_of(const fs::path& folder) { return folder / "suspect"; }
fs::path ready_of(const fs::path& folder) { return folder / "suspect.ready"; }

}  // namespace

void prepare_suspicion(const fs::path& folder) {
  std::error_code error;
  if (!fs::exists(ready_of(folder), error)) (void)write_private_file(ready_of(folder), kWords);
}

void mark_suspect(const fs::path& folder) {
  std::error_code error;
  fs::rename(ready_of(folder), mark_of(folder), error);
  if (error) {
    (void)write_private_file(mark_of(folder), kWords);
    return;
  }
  const int fd = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (fd < 0) return;
  ::fsync(fd);
  ::close(fd);
}

bool is_suspect(const fs::path& folder) {
  std::error_code error;
  return fs::exists(mark_of(folder), error);
}

Status clear_suspect(const fs::path& folder) {
  std::error_code error;
  fs::remove(mark_of(folder), error);
  if (!error) return {};
  return fail(Code::kIo, mark_of(folder).string() + ": cannot be removed (" + error.message() +
                             "); check the folder's permissions");
}

}  // namespace fairlead::ledger
