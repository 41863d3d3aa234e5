// The gps plugin: listens to gpsd through libgps for one or several receivers. One loop reads them
// all; a gpsd that is gone is a gap and another try every second.
#include <errno.h>
#include <fmt/format.h>
#include <gps.h>
#include <poll.h>

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
// Reports taken from one receiver before the others get their turn.
constexpr int kReportsATurn = 64;

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
    for (int i = 0; open_ && i < kReportsATurn && gps_waiting(&data_, 0); ++i) read_one(feed);
    tell(feed, reporter_.turn(sdk::now()));
  }

 private:
  void dial(sdk::Feed& feed) {
    redial_us_ = sdk::now().mono_us + kRedialUs;
    std::string port = std::to_string(receiver_.port);
    if (gps_open(receiver_.host.c_str(), port.c_str(), &data_) != 0) {
      tell(feed,
           reporter_.gone(fmt::format("gpsd does not answer on {}:{}", receiver_.host, port)));
      return;
    }
    open_ = true;
    if (gps_stream(&data_, WATCH_ENABLE | WATCH_JSON, nullptr) != 0) {
      hang_up();
      tell(feed, reporter_.gone("gpsd refuses to report"));
      return;
    }
    tell(feed, reporter_.connected(sdk::now()));
  }

  void read_one(sdk::Feed& feed) {
    report_.assign(kReportBytes, '\0');
    int got = gps_read(&data_, report_.data(), static_cast<int>(report_.size()));
    if (got < 0) {
      hang_up();
      tell(feed, reporter_.gone("gpsd has gone"));
      return;
    }
    std::string_view text(report_.data(), strnlen(report_.data(), report_.size()));
    tell(feed, reporter_.report(text, sdk::now()));
  }

  void tell(sdk::Feed& feed, const std::vector<Told>& tellings) {
    for (const Told& told : tellings) {
      if (told.fix) {
        feed.fix(channel_, told.fix->fix, {told.fix->arrived_wall_us, told.fix->arrived_mono_us},
                 told.fix->receiver_us, told.suspect ? v1::Quality::SUSPECT : v1::Quality::GOOD);
      }
      if (!told.state.empty()) feed.state(channel_, told.state);
      if (told.gap.empty()) continue;
      feed.gap(channel_, told.gap);
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
  std::vector<char> report_;
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
