#include "daemon/sensors/runtime_dir.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <system_error>
#include <utility>

namespace fairlead::sensors {

Result<RuntimeDir> RuntimeDir::open(const std::filesystem::path& dir) {
  std::error_code error;
  std::filesystem::path full = std::filesystem::absolute(dir, error);
  if (error || dir.empty()) return fail(Code::kBadInput, "runtime_dir: no path; name a folder");
  std::filesystem::create_directories(full.parent_path(), error);
  if (mkdir(full.c_str(), 0700) != 0 && errno != EEXIST) {
    return fail(Code::kIo, fmt::format("{}: cannot be made: {}", full.string(), strerror(errno)));
  }
  struct stat info{};
  if (lstat(full.c_str(), &info) != 0 || !S_ISDIR(info.st_mode)) {
    return fail(Code::kIo, fmt::format("{}: is not a folder; name another", full.string()));
  }
  if (info.st_uid != geteuid() || (info.st_mode & 077) != 0) {
    return fail(Code::kDenied,
                fmt::format("{}: must belong to the daemon's user with mode 0700; chmod it",
                            full.string()));
  }
  RuntimeDir result(full, -1);
  if (result.socket().string().size() >= sizeof(sockaddr_un{}.sun_path)) {
    return fail(Code::kBadInput, fmt::format("{}: longer than a socket's path may be (107 "
                                             "characters); name a shorter folder",
                                             result.socket().string()));
  }
  std::filesystem::path lock = full / "plugins.lock";
  result.lock_fd_ = ::open(lock.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
  if (result.lock_fd_ < 0) {
    return fail(Code::kIo, fmt::format("{}: {}", lock.string(), strerror(errno)));
  }
  if (flock(result.lock_fd_, LOCK_EX | LOCK_NB) != 0) {
    return fail(Code::kConflict,
                fmt::format("{}: another daemon runs on this folder; stop it or name another",
                            full.string()));
  }
  return result;
}

RuntimeDir::RuntimeDir(RuntimeDir&& other) noexcept
    : dir_(std::move(other.dir_)), lock_fd_(std::exchange(other.lock_fd_, -1)) {}

RuntimeDir::~RuntimeDir() {
  if (lock_fd_ >= 0) close(lock_fd_);
}

}  // namespace fairlead::sensors
