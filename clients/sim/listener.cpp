#include "clients/sim/listener.h"

#include <fmt/format.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <signal.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <cstring>
#include <utility>

namespace fairlead::sim {

namespace {
volatile sig_atomic_t g_ended = 0;

int64_t clock_us(clockid_t id) {
  timespec t{};
  clock_gettime(id, &t);
  return int64_t{t.tv_sec} * 1'000'000 + t.tv_nsec / 1000;
}
}  // namespace

Result<Listener> Listener::open(int port) {
  Listener result(socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0));
  int yes = 1;
  setsockopt(result.fd_, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  address.sin_port = htons(static_cast<uint16_t>(port));
  socklen_t size = sizeof address;
  auto* generic = reinterpret_cast<sockaddr*>(&address);
  bool good = result.fd_ >= 0 && bind(result.fd_, generic, size) == 0 &&
              listen(result.fd_, 8) == 0 && getsockname(result.fd_, generic, &size) == 0;
  if (!good) {
    return fail(Code::kIo, fmt::format("127.0.0.1:{}: {}; choose another port, or 0 for a free one",
                                       port, strerror(errno)));
  }
  fmt::print("listening on 127.0.0.1:{}\n", ntohs(address.sin_port));
  std::fflush(stdout);
  return result;
}

Listener::Listener(Listener&& other) noexcept : fd_(std::exchange(other.fd_, -1)) {}

Listener::~Listener() {
  if (fd_ >= 0) close(fd_);
}

int Listener::accept() const {
  int client = accept4(fd_, nullptr, nullptr, SOCK_CLOEXEC | SOCK_NONBLOCK);
  int yes = 1;
  if (client >= 0) setsockopt(client, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
  return client;
}

void end_on_signals() {
  struct sigaction action{};
  action.sa_handler = [](int) { g_ended = 1; };
  sigaction(SIGTERM, &action, nullptr);
  sigaction(SIGINT, &action, nullptr);
  signal(SIGPIPE, SIG_IGN);
}

bool ended() { return g_ended != 0; }
int64_t wall_us() { return clock_us(CLOCK_REALTIME); }
int64_t mono_us() { return clock_us(CLOCK_MONOTONIC); }

}  // namespace fairlead::sim
