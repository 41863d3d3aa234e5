#include "tests/conformance/subject.h"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/eventfd.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <sstream>

namespace fairlead::conformance {

namespace {
constexpr size_t kKeepOutput = 1 << 20;

std::string slurp(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

std::filesystem::path proc(int pid, const char* name) {
  return std::filesystem::path("/proc") / std::to_string(pid) / name;
}
}  // namespace

std::string unique_word() {
  static std::atomic<int> count = 0;
  return fmt::format("{}-{}", getpid(), ++count);
}

Subject::Subject(const Start& start) : mark_("FAIRLEAD_PLUGIN_CHECK=" + unique_word()) {
  std::array<int, 2> out{}, err{};
  if (pipe2(out.data(), O_CLOEXEC) != 0 || pipe2(err.data(), O_CLOEXEC) != 0) return;
  out_fd_ = out[0];
  err_fd_ = err[0];
  posix_spawn_file_actions_t actions;
  posix_spawn_file_actions_init(&actions);
  posix_spawn_file_actions_addchdir_np(&actions, start.folder.c_str());
  posix_spawn_file_actions_addopen(&actions, 0, "/dev/null", O_RDONLY, 0);
  posix_spawn_file_actions_adddup2(&actions, out[1], 1);
  posix_spawn_file_actions_adddup2(&actions, err[1], 2);
  posix_spawn_file_actions_addclosefrom_np(&actions, 3);
  posix_spawnattr_t attributes;
  posix_spawnattr_init(&attributes);
  posix_spawnattr_setpgroup(&attributes, 0);
  posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETPGROUP);

  std::vector<std::string> words{start.program.string()};
  words.insert(words.end(), start.arguments.begin(), start.arguments.end());
  const char* path = std::getenv("PATH");
  std::vector<std::string> names{fmt::format("PATH={}", path != nullptr ? path : "/usr/bin:/bin"),
                                 "LANG=C.UTF-8", "TZ=UTC", mark_};
  names.insert(names.end(), start.extra.begin(), start.extra.end());
  auto pointers = [](std::vector<std::string>& from) {
    std::vector<char*> to;
    for (std::string& word : from) to.push_back(word.data());
    to.push_back(nullptr);
    return to;
  };
  std::vector<char*> argv = pointers(words);
  std::vector<char*> envp = pointers(names);
  pid_t pid = 0;
  if (posix_spawn(&pid, words[0].c_str(), &actions, &attributes, argv.data(), envp.data()) == 0) {
    pid_ = pid;
  }
  posix_spawn_file_actions_destroy(&actions);
  posix_spawnattr_destroy(&attributes);
  close(out[1]);
  close(err[1]);
  stop_fd_ = eventfd(0, EFD_CLOEXEC);
  drainer_ = std::thread([this] { drain(); });
}

Subject::~Subject() {
  if (pid_ > 0) {
    kill(-pid_, SIGKILL);
    (void)ended(std::chrono::seconds(5));
  }
  for (int pid : kin()) kill(pid, SIGKILL);
  uint64_t one = 1;
  (void)!write(stop_fd_, &one, sizeof one);
  if (drainer_.joinable()) drainer_.join();
  for (int fd : {out_fd_, err_fd_, stop_fd_}) {
    if (fd >= 0) close(fd);
  }
}

void Subject::drain() {
  std::array<pollfd, 3> fds{{{out_fd_, POLLIN, 0}, {err_fd_, POLLIN, 0}, {stop_fd_, POLLIN, 0}}};
  std::array<char, 65536> buffer;
  while (fds[0].fd >= 0 || fds[1].fd >= 0) {
    poll(fds.data(), fds.size(), -1);
    if (fds[2].revents != 0) return;
    for (size_t i : {0, 1}) {
      if (fds[i].fd < 0 || fds[i].revents == 0) continue;
      ssize_t got = read(fds[i].fd, buffer.data(), buffer.size());
      if (got <= 0) fds[i].fd = -1;
      std::lock_guard lock(mutex_);
      std::string& text = i == 0 ? out_ : err_;
      if (got > 0 && text.size() < kKeepOutput)
        text.append(buffer.data(), static_cast<size_t>(got));
    }
  }
}

bool Subject::running() { return pid_ > 0 && !ended(std::chrono::milliseconds(0)); }

void Subject::signal(int number) const {
  if (pid_ > 0 && !status_) kill(pid_, number);
}

std::optional<int> Subject::ended(std::chrono::milliseconds within) {
  // As Stage::wait: in turns.
  constexpr std::chrono::milliseconds kTurn{5};
  for (std::chrono::milliseconds waited{0}; !status_; waited += kTurn) {
    int status = 0;
    if (waitpid(pid_, &status, WNOHANG) == pid_) {
      status_ = WIFSIGNALED(status) ? 1000 + WTERMSIG(status) : WEXITSTATUS(status);
      break;
    }
    if (waited >= within) break;
    std::this_thread::sleep_for(kTurn);
  }
  return status_;
}

int64_t Subject::rss_kib() const {
  std::istringstream text(slurp(proc(pid_, "statm")));
  int64_t all = 0, resident = 0;
  text >> all >> resident;
  return resident * (sysconf(_SC_PAGESIZE) / 1024);
}

int64_t Subject::open_files() const {
  std::error_code error;
  int64_t count = 0;
  for (std::filesystem::directory_iterator it(proc(pid_, "fd"), error), end; !error && it != end;
       it.increment(error)) {
    ++count;
  }
  return count;
}

int64_t Subject::cpu_ms() const {
  std::string text = slurp(proc(pid_, "stat"));
  std::istringstream rest(text.substr(std::min(text.size(), text.rfind(')') + 2)));
  std::string skip;
  for (int i = 0; i < 11; ++i) rest >> skip;
  int64_t user = 0, system = 0;
  rest >> user >> system;
  return (user + system) * 1000 / sysconf(_SC_CLK_TCK);
}

std::map<std::string, int64_t> Subject::ready_ns() const {
  std::map<std::string, int64_t> threads;
  std::error_code error;
  for (std::filesystem::directory_iterator it(proc(pid_, "task"), error), end; !error && it != end;
       it.increment(error)) {
    std::istringstream text(slurp(it->path() / "schedstat"));
    int64_t ran_ns = 0, waited_ns = 0;
    if (text >> ran_ns >> waited_ns) threads[it->path().filename()] = ran_ns + waited_ns;
  }
  return threads;
}

std::string Subject::out() const {
  std::lock_guard lock(mutex_);
  return out_;
}

std::string Subject::err() const {
  std::lock_guard lock(mutex_);
  return err_;
}

std::vector<int> Subject::kin() const {
  std::vector<int> found;
  std::error_code error;
  for (std::filesystem::directory_iterator it("/proc", error), end; !error && it != end;
       it.increment(error)) {
    int pid = std::atoi(it->path().filename().c_str());
    if (pid <= 0) continue;
    std::string names = slurp(it->path() / "environ");
    if (("\0" + names).find(mark_ + '\0') != std::string::npos) found.push_back(pid);
  }
  return found;
}

}  // namespace fairlead::conformance
