#include "reports/python_child.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

#include "reports/templates/template.h"

namespace fairlead::reports {
namespace {

constexpr const char* kPython = "/usr/bin/python3";
constexpr size_t kMostOutput = 256u << 20;

struct Pipe {
  int read_end = -1;
  int write_end = -1;
  Pipe() {
    int ends[2];
    if (pipe2(ends, O_CLOEXEC) == 0) read_end = ends[0], write_end = ends[1];
  }
  Pipe(const Pipe&) = delete;
  Pipe& operator=(const Pipe&) = delete;
  ~Pipe() {
    close_end(read_end);
    close_end(write_end);
  }
  static void close_end(int& end) {
    if (end >= 0) close(end);
    end = -1;
  }
};

// A started child in a process group of its own; killed and reaped when it is dropped.
class Child {
 public:
  Child() = default;
  Child(const Child&) = delete;
  Child& operator=(const Child&) = delete;
  ~Child() {
    if (pid_ > 0) stop();
  }
  bool start(std::vector<std::string> arguments, std::vector<std::string> environment, Pipe& in,
             Pipe& out, Pipe& err) {
    std::vector<char*> argv;
    for (auto& a : arguments) argv.push_back(a.data());
    argv.push_back(nullptr);
    std::vector<char*> env;
    for (auto& e : environment) env.push_back(e.data());
    env.push_back(nullptr);
    posix_spawn_file_actions_t actions;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, in.read_end, STDIN_FILENO);
    posix_spawn_file_actions_adddup2(&actions, out.write_end, STDOUT_FILENO);
    posix_spawn_file_actions_adddup2(&actions, err.write_end, STDERR_FILENO);
    posix_spawnattr_t attributes;
    posix_spawnattr_init(&attributes);
    posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETPGROUP);
    posix_spawnattr_setpgroup(&attributes, 0);
    const int error = posix_spawn(&pid_, argv[0], &actions, &attributes, argv.data(), env.data());
    posix_spawnattr_destroy(&attributes);
    posix_spawn_file_actions_destroy(&actions);
    if (error != 0) pid_ = -1;
    return error == 0;
  }
  /// Exit code, or -1 when it was ended by a signal.
  int wait() {
    int status = 0;
    while (waitpid(pid_, &status, 0) < 0 && errno == EINTR) {
    }
    pid_ = -1;
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  }
  void stop() {
    kill(-pid_, SIGKILL);
    wait();
  }

 private:
  pid_t pid_ = -1;
};

void unblock(int end) { fcntl(end, F_SETFL, fcntl(end, F_GETFL) | O_NONBLOCK); }

// Writing to a child that has gone gives EPIPE instead of a signal while this lives (its thread
// only: the signal is blocked and, if it came, taken away again).
class NoSigpipe {
 public:
  NoSigpipe() {
    sigemptyset(&set_);
    sigaddset(&set_, SIGPIPE);
    pthread_sigmask(SIG_BLOCK, &set_, &old_);
  }
  NoSigpipe(const NoSigpipe&) = delete;
  NoSigpipe& operator=(const NoSigpipe&) = delete;
  ~NoSigpipe() {
    const timespec now{0, 0};
    while (sigtimedwait(&set_, nullptr, &now) > 0) {
    }
    pthread_sigmask(SIG_SETMASK, &old_, nullptr);
  }

 private:
  sigset_t set_{}, old_{};
};

// Appends what is there; closes the end at end of file.
void drain(int& end, std::string& to, size_t most) {
  std::array<char, 65536> buffer;
  const ssize_t got = read(end, buffer.data(), buffer.size());
  if (got > 0 && to.size() < most) to.append(buffer.data(), static_cast<size_t>(got));
  if (got == 0 || (got < 0 && errno != EAGAIN && errno != EINTR)) Pipe::close_end(end);
}

void feed(int& end, std::string_view& rest) {
  const ssize_t put = write(end, rest.data(), std::min<size_t>(rest.size(), 65536));
  if (put > 0) rest.remove_prefix(static_cast<size_t>(put));
  if (rest.empty() || (put < 0 && errno != EAGAIN && errno != EINTR)) Pipe::close_end(end);
}

/// False when the time is over.
bool talk(Pipe& in, Pipe& out, Pipe& err, std::string_view input, std::string& output,
          std::string& complaint, std::chrono::seconds timeout) {
  const auto end = std::chrono::steady_clock::now() + timeout;
  const NoSigpipe quiet;
  while (out.read_end >= 0 || err.read_end >= 0) {
    const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(
        end - std::chrono::steady_clock::now());
    if (left.count() <= 0) return false;
    pollfd ends[3] = {
        {in.write_end, POLLOUT, 0}, {out.read_end, POLLIN, 0}, {err.read_end, POLLIN, 0}};
    if (poll(ends, 3, static_cast<int>(std::min<int64_t>(left.count(), 1000))) < 0 &&
        errno != EINTR) {
      return false;
    }
    if (ends[0].revents != 0) feed(in.write_end, input);
    if (ends[1].revents != 0) drain(out.read_end, output, kMostOutput);
    if (ends[2].revents != 0) drain(err.read_end, complaint, 1u << 16);
  }
  return true;
}

std::string last_line(std::string text) {
  while (!text.empty() && text.back() == '\n') text.pop_back();
  const size_t at = text.rfind('\n');
  return at == std::string::npos ? text : text.substr(at + 1);
}

}  // namespace

Result<std::string> run_python(const PythonTask& task, std::string_view input) {
  const auto script = built_in_file(task.script);
  if (!script) return std::unexpected(script.error());
  Pipe in;
  Pipe out;
  Pipe err;
  if (in.read_end < 0 || out.read_end < 0 || err.read_end < 0) {
    return fail(Code::kUnavailable, std::string("pipe: ") + std::strerror(errno) + "; try again");
  }
  Child child;
  // Fixed environment: the child's fonts and time stamps must not depend on who calls.
  std::vector<std::string> environment = {"PATH=/usr/bin:/bin", "LANG=C.UTF-8", "HOME=/nonexistent",
                                          "PYTHONHASHSEED=0", "XDG_CACHE_HOME=/tmp"};
  environment.insert(environment.end(), task.environment.begin(), task.environment.end());
  std::vector<std::string> arguments = {kPython, "-I", "-c", std::string(*script)};
  arguments.insert(arguments.end(), task.arguments.begin(), task.arguments.end());
  const std::string remedy = "; is the package " + task.package + " installed?";
  if (!child.start(arguments, environment, in, out, err))
    return fail(Code::kUnavailable, std::string(kPython) + ": cannot be started" + remedy);
  Pipe::close_end(in.read_end);
  Pipe::close_end(out.write_end);
  Pipe::close_end(err.write_end);
  unblock(in.write_end);
  unblock(out.read_end);
  unblock(err.read_end);
  std::string output;
  std::string complaint;
  if (!talk(in, out, err, input, output, complaint, task.timeout)) {
    return fail(Code::kUnavailable,
                "not done in " + std::to_string(task.timeout.count()) + " s and stopped");
  }
  if (child.wait() != 0) {
    return fail(complaint.find("No module named") != std::string::npos ? Code::kUnavailable
                                                                       : Code::kInternal,
                last_line(complaint) + remedy);
  }
  return output;
}

}  // namespace fairlead::reports
