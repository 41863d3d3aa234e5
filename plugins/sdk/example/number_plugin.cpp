// A whole plugin with the SDK: an instrument that sends one number a line over a serial device.
// DEVELOPERS.md, "Write your own plugin", walks through it. Copy it and change read_instrument().
#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <termios.h>
#include <unistd.h>

#include <charconv>
#include <cstring>
#include <string>
#include <utility>

#include "plugins/sdk/plugin.h"

namespace {
using fairlead::sdk::Config;
using fairlead::sdk::Feed;
using fairlead::sdk::Problems;
using fairlead::sdk::Section;

class NumberPlugin : public fairlead::sdk::Plugin {
 public:
  // Settings in, channels out. Every mistake is collected; the SDK tells the daemon and ends.
  Problems configure(const std::string& toml,
                     std::vector<fairlead::v1::PluginChannel>& channels) override {
    Config config(toml);
    if (!config.readable()) return config.problems();
    Section root = config.root();
    device_ = root.text("device");
    root.finish();  // Any other key is a mistake.

    auto& channel = channels.emplace_back();
    channel.set_source("line");
    channel.set_signal("line.pull");
    channel.set_unit("N");
    channel.set_range_hi(99'999);
    channel.set_resolution(1);
    channel.set_clock_source(fairlead::v1::PluginChannel::ARRIVAL);
    return config.problems();
  }

  // The loop. A lost instrument is a gap and another try, never a return.
  void run(Feed& feed) override {
    while (!feed.stopping()) {
      if (fd_ < 0) open_instrument(feed);
      if (fd_ >= 0) read_instrument(feed);
      feed.beat();  // From the loop itself: if it hangs, the daemon hears it fall silent.
      if (fd_ < 0) feed.wait(std::chrono::milliseconds(200));
    }
  }

 private:
  void open_instrument(Feed& feed) {
    fd_ = open(device_.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (fd_ < 0) return lose(feed, strerror(errno));
    termios raw{};
    if (tcgetattr(fd_, &raw) == 0) {
      cfmakeraw(&raw);
      cfsetspeed(&raw, B9600);
      tcsetattr(fd_, TCSANOW, &raw);
    }
  }

  void read_instrument(Feed& feed) {
    pollfd ready{fd_, POLLIN, 0};
    if (poll(&ready, 1, 100) <= 0) return;  // Never wait longer than the heartbeat allows.
    char bytes[256];
    ssize_t got = read(fd_, bytes, sizeof bytes);
    if (got <= 0) return lose(feed, got == 0 ? "the instrument is gone" : strerror(errno));
    for (ssize_t i = 0; i < got; ++i) {
      if (bytes[i] == '\n') {
        take(feed, std::exchange(line_, {}));
      } else if (bytes[i] != '\r' && line_.size() < 16) {
        line_ += bytes[i];
      }
    }
  }

  // What the instrument says is hostile until checked.
  void take(Feed& feed, const std::string& line) {
    int value = 0;
    auto [end, error] = std::from_chars(line.data(), line.data() + line.size(), value);
    bool whole = error == std::errc() && end == line.data() + line.size();
    if (!whole || value < 0 || value > 99'999) return;
    feed.sample(0, value);
  }

  void lose(Feed& feed, const std::string& cause) {
    if (fd_ >= 0) close(std::exchange(fd_, -1));
    feed.gap(0, cause);  // However often it is tried in vain, once is said.
  }

  std::string device_;
  std::string line_;
  int fd_ = -1;
};
}  // namespace

int main(int argc, char** argv) {
  NumberPlugin plugin;
  return fairlead::sdk::run_plugin(argc, argv, {"number", "1.0"}, plugin);
}
