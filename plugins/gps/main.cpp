// The gps plugin: listens to gpsd through libgps for one or several receivers. One loop reads them
// all; a gpsd that is gone is a gap and another try every second.
#include <errno.h>
#include <fmt/format.h>
#include <gps.h>
#include <poll.h>

#include <algorithm>
#include <chrono>
#include <cstring>
#include <memory>
#include <string>
#include <vector>

#include "plugins/gps/config.h"
#include "plugins/gps/epoch.h"
#include "plugins/gps/protocol.h"
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
      : receiver_(std::move(receiver)), channel_(channel) {}
  ~Listener() { hang_up(); }
  Listener(const Listener&) = delete;
  Listener& operator=(const Listener&) = delete;

  [[nodiscard]] int fd() const { return open_ ? static_cast<int>(data_.gps_fd) : -1; }

  void turn(sdk::Feed& feed) {
    sdk::Stamp at = sdk::now();
    if (!open_ && at.mono_us >= redial_us_) dial(feed, at);
    for (int i = 0; open_ && i < kReportsATurn && gps_waiting(&data_, 0); ++i) read_one(feed);
    settle(feed);
    watch_silence(feed);
  }

 private:
  void dial(sdk::Feed& feed, sdk::Stamp at) {
    redial_us_ = at.mono_us + kRedialUs;
    std::string port = std::to_string(receiver_.port);
    if (gps_open(receiver_.host.c_str(), port.c_str(), &data_) != 0) {
      missing(feed, fmt::format("gpsd does not answer on {}:{}", receiver_.host, port));
      return;
    }
    open_ = true;
    heard_us_ = at.mono_us;
    merger_.forget();
    if (gps_stream(&data_, WATCH_ENABLE | WATCH_JSON, nullptr) != 0) {
      hang_up();
      missing(feed, "gpsd refuses to report");
      return;
    }
    feed.state(channel_, "connected to gpsd");
  }

  void read_one(sdk::Feed& feed) {
    report_.assign(kReportBytes, '\0');
    int got = gps_read(&data_, report_.data(), static_cast<int>(report_.size()));
    if (got < 0) {
      emit(feed, merger_.flush());
      hang_up();
      missing(feed, "gpsd has gone");
      return;
    }
    std::string_view text(report_.data(), strnlen(report_.data(), report_.size()));
    if (!is_tpv(text)) return;
    auto tpv = read_tpv(text);
    if (!tpv) {
      feed.gap(channel_, "report not understood: " + tpv.error().message, 1);
      return;
    }
    if (!receiver_.device.empty() && tpv->device != receiver_.device) return;
    sdk::Stamp at = sdk::now();
    heard_us_ = at.mono_us;
    silent_ = false;
    emit(feed, merger_.push(*tpv, at.wall_us, at.mono_us));
  }

  void settle(sdk::Feed& feed) {
    auto since = merger_.pending_since_us();
    if (since && sdk::now().mono_us - *since >= receiver_.settle_us) emit(feed, merger_.flush());
  }

  void watch_silence(sdk::Feed& feed) {
    if (!open_ || silent_ || sdk::now().mono_us - heard_us_ < receiver_.silent_after_us) return;
    silent_ = true;
    feed.gap(channel_, fmt::format("no report from the receiver for {} s",
                                   static_cast<double>(receiver_.silent_after_us) / 1e6));
  }

  void emit(sdk::Feed& feed, const EpochMerger::Out& out) {
    if (out.epoch) {
      const Epoch& e = *out.epoch;
      missing_ = false;
      watch_date(feed, e);
      feed.fix(channel_, e.fix, {e.arrived_wall_us, e.arrived_mono_us}, e.receiver_us,
               e.frozen ? v1::Quality::SUSPECT : v1::Quality::GOOD);
    }
    if (out.lost_fix) feed.gap(channel_, "the receiver has no fix");
  }

  void watch_date(sdk::Feed& feed, const Epoch& epoch) {
    if (!epoch.receiver_us) return;
    DateVerdict verdict = judge_date(*epoch.receiver_us, epoch.arrived_wall_us);
    if (verdict == date_) return;
    date_ = verdict;
    switch (verdict) {
      case DateVerdict::kPlausible:
        feed.state(channel_, "receiver's date agrees");
        break;
      case DateVerdict::kWeekRollover:
        feed.state(channel_, "receiver's date is 1024 weeks off (week number wrapped); not used");
        break;
      case DateVerdict::kOff:
        feed.state(channel_, "receiver's date is off by more than a day; not used");
        break;
    }
  }

  // Once a loss, however often it is dialled in vain.
  void missing(sdk::Feed& feed, const std::string& cause) {
    if (std::exchange(missing_, true)) return;
    feed.gap(channel_, cause);
    fmt::print(stderr, "{}: {}\n", receiver_.source, cause);
  }

  void hang_up() {
    if (!std::exchange(open_, false)) return;
    gps_stream(&data_, WATCH_DISABLE, nullptr);
    gps_close(&data_);
  }

  Receiver receiver_;
  uint32_t channel_;
  gps_data_t data_{};
  bool open_ = false;
  bool missing_ = false;
  bool silent_ = false;
  int64_t redial_us_ = 0;
  int64_t heard_us_ = 0;
  DateVerdict date_ = DateVerdict::kPlausible;
  EpochMerger merger_;
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
