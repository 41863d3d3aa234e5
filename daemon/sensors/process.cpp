#include "daemon/sensors/process.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <system_error>
#include <utility>

namespace fairlead::sensors {

namespace {
Status check_node(const std::filesystem::path& path, bool is_folder) {
  struct stat info{};
  if (stat(path.c_str(), &info) != 0) {
    return fail(Code::kNotFound, fmt::format("{}: {}", path.string(), strerror(errno)));
  }
  bool shared = (info.st_mode & S_IWOTH) != 0;
  bool sticky = is_folder && (info.st_mode & S_ISVTX) != 0;
  if (shared && !sticky) {
    return fail(Code::kDenied,
                fmt::format("{}: anyone may write there; chmod o-w it", path.string()));
  }
  if (!is_folder && info.st_uid != 0 && info.st_uid != geteuid()) {
    return fail(Code::kDenied,
                fmt::format("{}: belongs to another user; chown it to root", path.string()));
  }
  return {};
}

struct Attributes {
  posix_spawn_file_actions_t actions;
  posix_spawnattr_t attributes;
  Attributes() {
    posix_spawn_file_actions_init(&actions);
    posix_spawnattr_init(&attributes);
  }
  ~Attributes() {
    posix_spawn_file_actions_destroy(&actions);
    posix_spawnattr_destroy(&attributes);
  }
  Attributes(const Attributes&) = delete;
  Attributes& operator=(const Attributes&) = delete;

  void prepare(int output, int inherit) {
    posix_spawn_file_actions_addopen(&actions, 0, "/dev/null", O_RDONLY, 0);
    posix_spawn_file_actions_adddup2(&actions, output, 1);
    posix_spawn_file_actions_adddup2(&actions, output, 2);
    // Also where it has that number already: glibc then only clears its close-on-exec.
    if (inherit >= 0) posix_spawn_file_actions_adddup2(&actions, inherit, Process::kInheritedFd);
    posix_spawn_file_actions_addclosefrom_np(
        &actions, inherit >= 0 ? Process::kInheritedFd + 1 : Process::kInheritedFd);
    sigset_t none;
    sigset_t all;
    sigemptyset(&none);
    sigfillset(&all);
    posix_spawnattr_setsigmask(&attributes, &none);
    posix_spawnattr_setsigdefault(&attributes, &all);
    posix_spawnattr_setpgroup(&attributes, 0);
    posix_spawnattr_setflags(
        &attributes, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
  }
};
}  // namespace

Result<std::filesystem::path> trusted_program(const std::filesystem::path& program) {
  std::error_code error;
  std::filesystem::path real = std::filesystem::canonical(program, error);
  if (error) {
    return fail(Code::kNotFound, fmt::format("{}: {}; install the plugin or correct the path",
                                             program.string(), error.message()));
  }
  if (!std::filesystem::is_regular_file(real, error) || access(real.c_str(), X_OK) != 0) {
    return fail(Code::kDenied, fmt::format("{}: is not an executable file", real.string()));
  }
  if (auto ok = check_node(real, false); !ok) return std::unexpected(ok.error());
  for (auto dir = real.parent_path(); true; dir = dir.parent_path()) {
    if (auto ok = check_node(dir, true); !ok) return std::unexpected(ok.error());
    if (dir == dir.root_path()) break;
  }
  return real;
}

Result<Process> Process::spawn(const std::filesystem::path& program,
                               const std::vector<std::string>& arguments, int inherit) {
  auto real = trusted_program(program);
  if (!real) return std::unexpected(real.error());
  std::array<int, 2> pipe_fds{};
  if (pipe2(pipe_fds.data(), O_CLOEXEC | O_NONBLOCK) != 0) {
    return fail(Code::kIo, fmt::format("pipe: {}", strerror(errno)));
  }
  // The child's end blocks, as any program expects of its stderr.
  fcntl(pipe_fds[1], F_SETFL, 0);

  std::string name = real->string();
  std::vector<std::string> words{name};
  words.insert(words.end(), arguments.begin(), arguments.end());
  std::vector<char*> argv;
  for (std::string& word : words) argv.push_back(word.data());
  argv.push_back(nullptr);
  const char* path = std::getenv("PATH");
  std::string path_word = fmt::format("PATH={}", path != nullptr ? path : "/usr/bin:/bin");
  std::string lang_word = "LANG=C.UTF-8";
  std::string zone_word = "TZ=UTC";
  std::array<char*, 4> environment{path_word.data(), lang_word.data(), zone_word.data(), nullptr};

  Attributes how;
  how.prepare(pipe_fds[1], inherit);
  pid_t pid = 0;
  int error = posix_spawn(&pid, name.c_str(), &how.actions, &how.attributes, argv.data(),
                          environment.data());
  close(pipe_fds[1]);
  if (error != 0) {
    close(pipe_fds[0]);
    return fail(Code::kIo, fmt::format("{}: cannot be started: {}", name, strerror(error)));
  }
  Process process;
  process.pid_ = pid;
  // Not through <sys/pidfd.h>: glibc 2.36 forgets to declare it for C++.
  process.pid_fd_ = static_cast<int>(syscall(SYS_pidfd_open, pid, 0));
  process.output_fd_ = pipe_fds[0];
  return process;
}

Process::Process(Process&& other) noexcept
    : pid_(std::exchange(other.pid_, 0)),
      pid_fd_(std::exchange(other.pid_fd_, -1)),
      output_fd_(std::exchange(other.output_fd_, -1)) {}

Process& Process::operator=(Process&& other) noexcept {
  if (this != &other) {
    clear();
    pid_ = std::exchange(other.pid_, 0);
    pid_fd_ = std::exchange(other.pid_fd_, -1);
    output_fd_ = std::exchange(other.output_fd_, -1);
  }
  return *this;
}

Process::~Process() { clear(); }

void Process::clear() {
  if (pid_ > 0) {
    signal_group(SIGKILL);
    int status = 0;
    while (waitpid(pid_, &status, 0) < 0 && errno == EINTR) continue;
    pid_ = 0;
  }
  if (pid_fd_ >= 0) close(std::exchange(pid_fd_, -1));
  close_output();
}

void Process::close_output() {
  if (output_fd_ >= 0) close(std::exchange(output_fd_, -1));
}

void Process::signal_group(int signal) const {
  if (pid_ > 0) kill(-pid_, signal);
}

bool Process::reap(std::string& words) {
  if (pid_ <= 0) return false;
  siginfo_t info{};
  // Looked at first, reaped last: until then the group's number cannot be given to another.
  int seen = waitid(P_PID, static_cast<id_t>(pid_), &info, WEXITED | WNOHANG | WNOWAIT);
  if (seen != 0 || info.si_pid != pid_) return false;
  signal_group(SIGKILL);
  int status = 0;
  waitpid(pid_, &status, 0);
  words = WIFSIGNALED(status) ? fmt::format("killed by signal {}", WTERMSIG(status))
                              : fmt::format("exit status {}", WEXITSTATUS(status));
  pid_ = 0;
  if (pid_fd_ >= 0) close(std::exchange(pid_fd_, -1));
  return true;
}

}  // namespace fairlead::sensors
