#include "daemon/base/key_file.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

namespace fairlead {
namespace {

class Fd {
 public:
  explicit Fd(int fd) : fd_(fd) {}
  ~Fd() {
    if (fd_ >= 0) ::close(fd_);
  }
  Fd(const Fd&) = delete;
  Fd& operator=(const Fd&) = delete;
  [[nodiscard]] int get() const { return fd_; }

 private:
  int fd_;
};

// A failed sync is never just a full disk: what it should have kept may be gone.
enum class Step { kSync, kOther };
std::unexpected<Error> io_error(const std::filesystem::path& file, const char* what,
                                Step step = Step::kOther) {
  const int number = errno;
  const bool full = step != Step::kSync && (number == ENOSPC || number == EDQUOT);
  return fail(number == ENOENT ? Code::kNotFound
              : full           ? Code::kUnavailable
                               : Code::kIo,
              fmt::format("{}: {} ({}); check the folder and its permissions", file.string(), what,
                          std::strerror(number)));
}

Status write_all(int fd, std::string_view bytes, const std::filesystem::path& file) {
  while (!bytes.empty()) {
    const ssize_t written = ::write(fd, bytes.data(), bytes.size());
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) return io_error(file, "cannot be written");
    bytes.remove_prefix(static_cast<size_t>(written));
  }
  return {};
}

Status write_beside(const std::filesystem::path& beside, std::string_view bytes) {
  const Fd out(::open(beside.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0600));
  if (out.get() < 0) return io_error(beside, "cannot be made");
  if (auto ok = write_all(out.get(), bytes, beside); !ok) return ok;
  if (::fsync(out.get()) != 0) return io_error(beside, "cannot be synced", Step::kSync);
  return {};
}

}  // namespace

Status write_private_file(const std::filesystem::path& file, std::string_view bytes) {
  const std::filesystem::path beside = file.string() + ".new";
  if (auto ok = write_beside(beside, bytes); !ok) {
    ::unlink(beside.c_str());  // On a full disk every byte counts.
    return ok;
  }
  if (::rename(beside.c_str(), file.c_str()) != 0)
    return io_error(file, "cannot be renamed into place");
  const std::filesystem::path folder = file.has_parent_path() ? file.parent_path() : ".";
  return sync_folder(folder);
}

Status sync_folder(const std::filesystem::path& folder) {
  const Fd dir(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (dir.get() < 0 || ::fsync(dir.get()) != 0)
    return io_error(folder, "cannot be synced", Step::kSync);
  return {};
}

Result<std::string> read_small_file(const std::filesystem::path& file, size_t longest) {
  const Fd in(::open(file.c_str(), O_RDONLY | O_CLOEXEC));
  if (in.get() < 0) return io_error(file, "cannot be opened");
  std::string bytes(longest + 1, '\0');
  size_t have = 0;
  while (have < bytes.size()) {
    const ssize_t got = ::read(in.get(), bytes.data() + have, bytes.size() - have);
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return io_error(file, "cannot be read");
    if (got == 0) break;
    have += static_cast<size_t>(got);
  }
  if (have > longest) {
    return fail(Code::kBadInput,
                fmt::format("{}: is longer than {} bytes; check the path", file.string(), longest));
  }
  bytes.resize(have);
  return bytes;
}

Result<SecretKey> load_or_make_key(const std::filesystem::path& file) {
  constexpr size_t kLongest = 256;
  struct stat info{};
  if (::stat(file.c_str(), &info) != 0) {
    if (errno != ENOENT) return io_error(file, "cannot be looked at");
    SecretKey key = SecretKey::generate();
    if (auto ok = write_private_file(file, key.to_text().view()); !ok)
      return std::unexpected(ok.error());
    return key;
  }
  if ((info.st_mode & 077) != 0) {
    return fail(Code::kDenied,
                fmt::format("{}: others may read this secret key; run chmod 600 on it, and "
                            "replace the key if anybody did",
                            file.string()));
  }
  const auto text = read_small_file(file, kLongest);
  if (!text) return std::unexpected(text.error());
  auto key = SecretKey::from_text(SecretText(*text).view());
  if (!key) return fail_at(file.string() + ": ", key.error());
  return key;
}

Result<FolderLock> FolderLock::take(const std::filesystem::path& folder) {
  std::error_code error;
  const bool made = std::filesystem::create_directories(folder, error);
  if (error) return fail(Code::kIo, folder.string() + ": cannot be made: " + error.message());
  if (made) std::filesystem::permissions(folder, std::filesystem::perms::owner_all, error);
  const std::filesystem::path file = folder / "lock";
  const int fd = ::open(file.c_str(), O_RDWR | O_CREAT | O_CLOEXEC, 0600);
  if (fd < 0) return io_error(file, "cannot be opened");
  if (::flock(fd, LOCK_EX | LOCK_NB) != 0) {
    ::close(fd);
    return fail(Code::kConflict, folder.string() +
                                     ": another daemon uses this data folder; stop it, or "
                                     "give this one a folder of its own");
  }
  return FolderLock(fd);
}

FolderLock::~FolderLock() {
  if (fd_ >= 0) ::close(fd_);
}

}  // namespace fairlead
