#include "daemon/ledger/attachments.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <fstream>
#include <utility>

#include "daemon/base/bytes.h"

namespace fairlead::ledger {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view kTemporary = "incoming-";

// A failed sync is never just a full disk: what it should have kept may be gone.
enum class Step { kSync, kOther };
std::unexpected<Error> io_error(const fs::path& file, std::string_view what,
                                Step step = Step::kOther) {
  const int number = errno;
  const bool full = step != Step::kSync && (number == ENOSPC || number == EDQUOT);
  return fail(full ? Code::kUnavailable : Code::kIo,
              fmt::format("{}: {} ({}); {}", file.string(), what, std::strerror(number),
                          full ? "free some disk space" : "check the disk and its permissions"));
}

Status sync_folder(const fs::path& folder) {
  const int fd = ::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (fd < 0) return io_error(folder, "cannot be opened");
  const bool synced = ::fsync(fd) == 0;
  const auto failed = synced ? Status{} : Status(io_error(folder, "cannot be synced", Step::kSync));
  ::close(fd);
  return failed;
}

fs::path path_of(const fs::path& folder, const Hash& sha256) {
  const std::string name = hex_of(sha256);
  return folder / name.substr(0, 2) / name;
}

Result<Hash> hash_of_file(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  Sha256 hash;
  std::string block(1U << 16, '\0');
  while (in) {
    in.read(block.data(), static_cast<std::streamsize>(block.size()));
    hash.update(std::string_view(block).substr(0, static_cast<size_t>(in.gcount())));
  }
  if (!in.eof()) return io_error(file, "cannot be read");
  return hash.finish();
}

}  // namespace

AttachmentWriter::AttachmentWriter(AttachmentWriter&& other) noexcept
    : fd_(std::exchange(other.fd_, -1)),
      temporary_(std::move(other.temporary_)),
      folder_(std::move(other.folder_)),
      failed_(std::move(other.failed_)),
      hash_(std::move(other.hash_)),
      bytes_(other.bytes_) {}

AttachmentWriter::~AttachmentWriter() {
  if (fd_ < 0) return;
  ::close(fd_);
  ::unlink(temporary_.c_str());
}

Status AttachmentWriter::write(std::string_view bytes) {
  if (bytes_ + bytes.size() > kMostBytes) {
    return fail(Code::kBadInput,
                fmt::format("attachment: is larger than {} bytes; split it", kMostBytes));
  }
  hash_.update(bytes);
  bytes_ += bytes.size();
  while (!bytes.empty()) {
    const ssize_t written = ::write(fd_, bytes.data(), bytes.size());
    if (written < 0 && errno == EINTR) continue;
    if (written < 0) {
      const auto error = io_error(temporary_, "cannot be written");
      tell(error.error());
      return error;
    }
    bytes.remove_prefix(static_cast<size_t>(written));
  }
  return {};
}

void AttachmentWriter::tell(const Error& error) const {
  if (failed_ && error.code != Code::kUnavailable) failed_(error);
}

Result<Hash> AttachmentWriter::finish() {
  auto done = finish_file();
  if (!done) tell(done.error());
  return done;
}

Result<Hash> AttachmentWriter::finish_file() {
  const Hash sha256 = hash_.finish();
  const fs::path file = path_of(folder_, sha256);
  std::error_code made;
  const bool new_folder = fs::create_directory(file.parent_path(), made);
  if (made) {
    errno = made.value();
    return io_error(file.parent_path(), "cannot be made");
  }
  if (new_folder) {
    if (const auto synced = sync_folder(folder_); !synced) return std::unexpected(synced.error());
  }
  if (::fsync(fd_) != 0) return io_error(temporary_, "cannot be synced", Step::kSync);
  if (::rename(temporary_.c_str(), file.c_str()) != 0) return io_error(file, "cannot be named");
  ::close(std::exchange(fd_, -1));
  if (const auto synced = sync_folder(file.parent_path()); !synced) {
    return std::unexpected(synced.error());
  }
  return sha256;
}

Status Attachments::prepare() const {
  std::error_code error;
  fs::create_directories(folder_, error);
  if (error) {
    return fail(Code::kIo, fmt::format("{}: cannot be made ({}); check the folder's permissions",
                                       folder_.string(), error.message()));
  }
  for (const auto& file : fs::directory_iterator(folder_, error)) {
    if (file.path().filename().string().starts_with(kTemporary)) fs::remove(file.path(), error);
  }
  return {};
}

Result<AttachmentWriter> Attachments::begin() const {
  std::string name = (folder_ / (std::string(kTemporary) + "XXXXXX")).string();
  const int fd = ::mkostemp(name.data(), O_CLOEXEC);
  if (fd < 0) return io_error(folder_, "takes no new file");
  return AttachmentWriter(fd, name, folder_, failed_);
}

Result<Hash> Attachments::put(std::string_view bytes) const {
  const Hash sha256 = fairlead::sha256(bytes);
  if (const auto held = get(sha256); held) return sha256;  // Whole and good: nothing to do.
  auto writer = begin();
  if (!writer) return std::unexpected(writer.error());
  if (const auto written = writer->write(bytes); !written) return std::unexpected(written.error());
  return writer->finish();
}

Result<std::string> Attachments::get(const Hash& sha256) const {
  const fs::path file = path_of(folder_, sha256);
  std::ifstream in(file, std::ios::binary);
  if (!in)
    return fail(Code::kNotFound,
                fmt::format("attachment {}: is not here; send it again", hex_of(sha256)));
  std::string bytes((std::istreambuf_iterator<char>(in)), std::istreambuf_iterator<char>());
  if (fairlead::sha256(bytes) == sha256) return bytes;
  return fail(
      Code::kCorrupt,
      fmt::format("attachment {}: its bytes have changed on disk; send it again", hex_of(sha256)));
}

bool Attachments::has(const Hash& sha256) const {
  std::error_code error;
  return fs::is_regular_file(path_of(folder_, sha256), error);
}

Status Attachments::remove(const Hash& sha256) const {
  const fs::path file = path_of(folder_, sha256);
  if (::unlink(file.c_str()) != 0) {
    if (errno == ENOENT) return {};
    return io_error(file, "cannot be removed");
  }
  return sync_folder(file.parent_path());
}

Result<uint64_t> Attachments::audit(std::vector<std::string>& problems,
                                    const std::function<bool(uint64_t)>& go_on) const {
  uint64_t files = 0;
  std::error_code error;
  for (const auto& file : fs::recursive_directory_iterator(folder_, error)) {
    const std::string name = file.path().filename().string();
    if (!file.is_regular_file() || name.starts_with(kTemporary)) continue;
    if (go_on && !go_on(files))
      return fail(Code::kUnavailable, "attachments: the reading was stopped; start it again");
    ++files;
    const auto hash = hash_of_file(file.path());
    std::error_code gone;
    if (!hash && !fs::exists(file.path(), gone)) continue;  // Erased meanwhile.
    if (!hash) {
      problems.push_back(fmt::format("attachment {}: cannot be read", name));
      continue;
    }
    if (hex_of(*hash) != name)
      problems.push_back(fmt::format("attachment {}: its bytes have changed", name));
  }
  if (error)
    return fail(Code::kIo,
                fmt::format("{}: cannot be listed ({})", folder_.string(), error.message()));
  return files;
}

}  // namespace fairlead::ledger
