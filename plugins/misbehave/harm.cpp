#include "plugins/misbehave/harm.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <signal.h>
#include <spawn.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <thread>

extern char** environ;

namespace fairlead::misbehave {

namespace {
constexpr size_t kChunk = 1 << 20;
constexpr int64_t kChunkEveryUs = 250'000;

std::unique_ptr<char[]> chunk() {
  auto memory = std::make_unique<char[]>(kChunk);
  memset(memory.get(), 1, kChunk);  // Touched, so that it is really taken.
  return memory;
}

void leave_a_child() {
  char name[] = "sleep";
  char time[] = "300";
  char* arguments[] = {name, time, nullptr};
  pid_t child = 0;
  posix_spawnp(&child, name, nullptr, nullptr, arguments, environ);
}
}  // namespace

void Harm::prepare() const {
  if (fault_ == Fault::kIgnoreTerm) signal(SIGTERM, SIG_IGN);
}

void Harm::turn(int64_t mono_us) {
  if (begun_us_ == 0) begun_us_ = mono_us;
  switch (fault_) {
    case Fault::kCrash:
      std::abort();
    case Fault::kQuit:
      _exit(0);
    case Fault::kLeak:
      while (mono_us - begun_us_ > static_cast<int64_t>(taken_.size()) * kChunkEveryUs) {
        taken_.push_back(chunk());
      }
      break;
    case Fault::kOpenFiles:
      (void)open("/dev/null", O_RDONLY);
      break;
    case Fault::kChatter:
      for (int i = 0; i < 100; ++i) fmt::print(stderr, "all is well, line {} of this turn\n", i);
      break;
    default:
      if (!done_) once();
  }
}

void Harm::once() {
  done_ = true;
  if (fault_ == Fault::kStop) raise(SIGSTOP);
  if (fault_ == Fault::kOrphan) leave_a_child();
  if (fault_ == Fault::kSpin) {
    std::thread([] {
      for (volatile uint64_t n = 0; true;) n = n + 1;
    }).detach();
  }
  if (fault_ == Fault::kLitter) {
    fmt::print("reading the instrument\n");
    std::fflush(stdout);
    int fd = open("misbehave.left", O_WRONLY | O_CREAT, 0600);
    if (fd >= 0) close(fd);
  }
}

void Harm::while_unread(size_t unacked) {
  if (fault_ != Fault::kHoard) return;
  // A buffer of fat records: a megabyte for every four readings.
  while (taken_.size() < unacked / 4) taken_.push_back(chunk());
  if (unacked < 4) taken_.clear();
}

void Harm::connected() {
  if (fault_ == Fault::kLitter) (void)open("/dev/null", O_RDONLY);
}

}  // namespace fairlead::misbehave
