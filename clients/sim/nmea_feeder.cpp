#include "clients/sim/nmea_feeder.h"

#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <string>
#include <vector>

#include "clients/sim/listener.h"

namespace fairlead::sim {

namespace {
class Clients {
 public:
  Clients() = default;
  ~Clients() {
    for (int fd : fds_) close(fd);
  }
  Clients(const Clients&) = delete;
  Clients& operator=(const Clients&) = delete;

  [[nodiscard]] bool empty() const { return fds_.empty(); }
  void add(int fd) {
    if (fd >= 0) fds_.push_back(fd);
  }
  // Who does not read, or hung up, is dropped.
  void send(const std::string& text) {
    std::erase_if(fds_, [&](int fd) {
      auto sent = ::send(fd, text.data(), text.size(), MSG_NOSIGNAL);
      bool gone = sent != static_cast<ssize_t>(text.size());
      if (gone) close(fd);
      return gone;
    });
  }

 private:
  std::vector<int> fds_;
};
}  // namespace

Status feed_nmea(Track track, double length_s, const FeederOptions& options) {
  auto listener = Listener::open(options.port);
  if (!listener) return std::unexpected(listener.error());
  end_on_signals();
  Clients clients;
  const auto step_us = static_cast<int64_t>(1e6 / options.rate_hz);
  int64_t epoch = 0;
  int64_t due_us = 0;
  while (!ended()) {
    int64_t wait_us = clients.empty() ? 200'000 : std::max<int64_t>(0, due_us - mono_us());
    pollfd fd{listener->fd(), POLLIN, 0};
    if (poll(&fd, 1, static_cast<int>(std::min<int64_t>(wait_us / 1000 + 1, 200))) > 0) {
      if (clients.empty()) due_us = mono_us();
      clients.add(listener->accept());
    }
    if (clients.empty() || mono_us() < due_us) continue;
    double seconds = static_cast<double>(epoch) / options.rate_hz;
    if (options.once && seconds > length_s) break;
    // Receivers date their epochs on whole steps.
    int64_t time_us = wall_us() / step_us * step_us;
    clients.send(sentences_of(track.epoch(seconds, time_us)));
    ++epoch;
    due_us += step_us;
  }
  return {};
}

}  // namespace fairlead::sim
