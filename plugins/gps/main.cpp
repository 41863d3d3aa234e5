// The gps plugin: listens to gpsd through libgps for one or several receivers. One loop reads them
// all; a gpsd that is gone is a gap and another try every second.
#include <errno.h>
#include <fmt/format.h>
#include <gps.h>
#include <poll.h>
#include <sys/socket.h>

#include <array>
#include <cstring>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "plugins/gps/config.h"
#include "plugins/gps/reporter.h"
#include "plugins/sdk/plugin.h"

namespace fairlead::gps {
namespace {

static_assert(GPSD_API_MAJOR_VERSION >= 11, "written for libgps API 11 (gpsd 3.22) and later");

constexpr int64_t kRedialUs = 1'000'000;
constexpr int kTurnMs = 50;
// One report; libgps' public header names no limit, its own is 10,240.
constexpr size_t kReportBytes = 10'240;

class Listener {
 public:
  Listener(Receiver receiver, uint32_t channel)
      : receiver_(std::move(receiver)), channel_(channel), reporter_(receiver_) {}
  ~Listener() { hang_up(); }
  Listener(const Listener&) = delete;
  Listener& operator=(const Listener&) = delete;

  [[nodiscard]] int fd() const { return open_ ? static_cast<int>(data_.gps_fd) : -1; }

  void turn(sdk::Feed& feed) {
    if (!open_ && sdk::now().mono_us >= redial_us_) dial(feed);
    if (open_) read_some(feed);
    tell(feed, reporter_.turn(sdk::now()));
  }

 private:
  void dial(sdk::Feed& feed) {
    redial_us_ = sdk::now().mono_us + kRedialUs;
    std::string port = std::to_string(receiver_.port);
    if (gps_open(receiver_.host.c_str(), port.c_str(), &data_) != 0) {
      tell(feed, reporter_.gone(fmt::format("gpsd does not answer on {}:{}", receiver_.host, port),
                                sdk::now()));
      return;
    }
    open_ = true;
    line_.clear();
    if (gps_stream(&data_, WATCH_ENABLE | WATCH_JSON, nullptr) != 0) {
      hang_up();
      tell(feed, reporter_.gone("gpsd refuses to report", sdk::now()));
      return;
    }
    tell(feed, reporter_.connected(sdk::now()));
  }

  // Reports are taken from the socket as text. libgps' own parser is not asked: of some damaged
  // reports it never comes back (3.22, seen with the conformance kit, group 11).
  void read_some(sdk::Feed& feed) {
    std::array<char, kReportBytes> bytes;
    ssize_t got = recv(fd(), bytes.data(), bytes.size(), MSG_DONTWAIT);
    if (got < 0 && (errno == EAGAIN || errno == EINTR)) return;
    if (got <= 0) {
      hang_up();
      tell(feed, reporter_.gone("gpsd has gone", sdk::now()));
      return;
    }
    for (char c : std::string_view(bytes.data(), static_cast<size_t>(got))) {
      if (c == '\n') {
        tell(feed, reporter_.report(std::exchange(line_, {}), sdk::now()));
      } else if (line_.size() < kReportBytes) {
        line_ += c;  // What is longer is no report and reads as none.
      }
    }
  }

  void tell(sdk::Feed& feed, const std::vector<Told>& tellings) {
    for (const Told& told : tellings) {
      if (told.fix) {
        feed.fix(channel_, told.fix->fix, told.at, told.fix->receiver_us,
                 told.suspect ? v1::Quality::SUSPECT : v1::Quality::GOOD);
      }
      if (!told.state.empty()) feed.state(channel_, told.state, told.at);
      if (told.gap.empty()) continue;
      feed.gap(channel_, told.gap, {}, told.at);
      fmt::print(stderr, "{}: {}\n", receiver_.source, told.gap);
    }
  }

  void hang_up() {
    if (!std::exchange(open_, false)) return;
    gps_stream(&data_, WATCH_DISABLE, nullptr);
    gps_close(&data_);
  }

  Receiver receiver_;
  uint32_t channel_;
  Reporter reporter_;
  gps_data_t data_{};
  bool open_ = false;
  int64_t redial_us_ = 0;
  std::string line_;  // What has come of the next report.
};

class GpsPlugin : public sdk::Plugin {
 public:
  sdk::Problems configure(const std::string& toml,
                          std::vector<v1::PluginChannel>& channels) override {
    sdk::Problems problems = read_settings(toml, settings_);
    channels = channels_of(settings_);
    return problems;
  }

  void run(sdk::Feed& feed) override {
    std::vector<std::unique_ptr<Listener>> listeners;
    for (uint32_t i = 0; i < settings_.receivers.size(); ++i) {
      listeners.push_back(std::make_unique<Listener>(settings_.receivers[i], i));
    }
    while (!feed.stopping()) {
      std::vector<pollfd> fds;
      for (const auto& listener : listeners) {
        if (listener->fd() >= 0) fds.push_back({listener->fd(), POLLIN, 0});
      }
      poll(fds.data(), fds.size(), kTurnMs);
      for (const auto& listener : listeners) listener->turn(feed);
      feed.beat();
    }
  }

 private:
  Settings settings_;
};

}  // namespace
}  // namespace fairlead::gps

int main(int argc, char** argv) {
  fairlead::gps::GpsPlugin plugin;
  return fairlead::sdk::run_plugin(argc, argv, {"gps", "1.0"}, plugin);
}
