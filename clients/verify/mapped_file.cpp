#include "clients/verify/mapped_file.h"

#include <fcntl.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <utility>

namespace fairlead::verifier {
namespace {

std::unexpected<Error> failed(const std::string& path) {
  return fail(Code::kIo, path + ": " + std::strerror(errno));
}

}  // namespace

Result<MappedFile> MappedFile::open(const std::string& path) {
  const int fd = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
  if (fd < 0) return failed(path);
  struct stat info{};
  if (::fstat(fd, &info) != 0) {
    auto error = failed(path);
    ::close(fd);
    return error;
  }
  if (!S_ISREG(info.st_mode)) {
    ::close(fd);
    return fail(Code::kBadInput, path + ": is not a plain file; give the file itself");
  }
  const auto size = static_cast<size_t>(info.st_size);
  if (size == 0) {
    ::close(fd);
    return MappedFile("", 0);
  }
  void* data = ::mmap(nullptr, size, PROT_READ, MAP_PRIVATE, fd, 0);
  ::close(fd);
  if (data == MAP_FAILED) return failed(path);
  return MappedFile(static_cast<const char*>(data), size);
}

MappedFile::MappedFile(MappedFile&& other) noexcept
    : data_(std::exchange(other.data_, "")), size_(std::exchange(other.size_, 0)) {}

MappedFile::~MappedFile() {
  if (size_ != 0) ::munmap(const_cast<char*>(data_), size_);
}

}  // namespace fairlead::verifier
