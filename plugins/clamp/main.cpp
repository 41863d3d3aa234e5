// SPDX-License-Identifier: GPL-3.0-or-later
// The clamp plugin: volts and amps of any meter libsigrok knows. A program of its own because that
// library is GPL-3.0-or-later; it shares no memory with the daemon.
#include <fmt/format.h>

#include <chrono>
#include <optional>
#include <string>

#include "plugins/clamp/config.h"
#include "plugins/clamp/meter.h"
#include "plugins/sdk/plugin.h"

namespace fairlead::clamp {
namespace {

using namespace std::chrono_literals;
constexpr int64_t kRedialUs = 1'000'000;
// Drivers look for a silent meter some 3 s; one that looks longer hangs.
constexpr int64_t kLongestSearchUs = 8'000'000;

class ClampPlugin : public sdk::Plugin {
 public:
  sdk::Problems configure(const std::string& toml,
                          std::vector<v1::PluginChannel>& channels) override {
    sdk::Problems problems = read_settings(toml, settings_);
    channels = channels_of(settings_);
    for (uint32_t i = 0; i < channels.size(); ++i) {
      (channels[i].signal() == "clamp.volts" ? volts_ : amps_) = i;
    }
    return problems;
  }

  void run(sdk::Feed& feed) override {
    Meter meter(settings_, [&](const std::string& channel, const Shown& shown) {
      if (wanted(channel, shown.kind)) took(feed, shown);
    });
    int64_t redial_us = 0;
    while (!feed.stopping()) {
      int64_t now_us = sdk::now().mono_us;
      if (!meter.is_open() && now_us >= redial_us) {
        dial(meter, feed);
        redial_us = sdk::now().mono_us + kRedialUs;
      }
      if (meter.is_open()) watch(meter, feed);
      feed.beat();
      if (feed.wait(10ms)) break;
    }
    meter.close();
  }

 private:
  void dial(Meter& meter, sdk::Feed& feed) {
    int64_t begun_us = sdk::now().mono_us;
    auto ok = meter.open([&] {
      if (sdk::now().mono_us - begun_us < kLongestSearchUs) feed.beat();
      return !feed.wait(50ms);
    });
    heard_us_ = sdk::now().mono_us;
    if (!ok) gap_all(feed, ok.error().message);
  }

  void watch(Meter& meter, sdk::Feed& feed) {
    bool goes_on = meter.turn();
    bool silent = sdk::now().mono_us - heard_us_ > settings_.silent_after_us;
    if (goes_on && !silent) return;
    meter.close();
    gap_all(feed, silent ? fmt::format("no reading from the meter for {} s",
                                       static_cast<double>(settings_.silent_after_us) / 1e6)
                         : "the meter is gone");
  }

  [[nodiscard]] bool wanted(const std::string& channel, Shown::Kind kind) const {
    if (kind == Shown::kOther) return true;
    const std::string& name =
        kind == Shown::kVolts ? settings_.volts_channel : settings_.amps_channel;
    return name.empty() || name == channel;
  }

  void took(sdk::Feed& feed, const Shown& shown) {
    heard_us_ = sdk::now().mono_us;
    Taken taken = take(shown);
    say_battery(feed, shown.low_battery);
    if (!taken.gap.empty()) return gap_all(feed, taken.gap);
    bool volts = taken.kind == Shown::kVolts;
    std::optional<uint32_t> channel = volts ? volts_ : amps_;
    std::optional<uint32_t> other = volts ? amps_ : volts_;
    if (!channel) return gap_all(feed, volts ? "the meter shows volts" : "the meter shows amps");
    // Of a meter with one display the other quantity is not measured meanwhile.
    bool one_display = settings_.volts_channel == settings_.amps_channel;
    if (one_display && other)
      gap(feed, *other, volts ? "the meter shows volts" : "the meter shows amps");
    int64_t& due_us = volts ? volts_due_us_ : amps_due_us_;
    if (heard_us_ < due_us) return;
    due_us = heard_us_ + settings_.least_interval_us;
    feed.sample(*channel, taken.value, sdk::now(), taken.quality);
  }

  void say_battery(sdk::Feed& feed, bool low) {
    if (std::exchange(low_battery_, low) == low) return;
    uint32_t channel = volts_ ? *volts_ : *amps_;
    feed.state(channel, low ? "the meter's battery is low: readings are suspect"
                            : "the meter's battery is well again");
  }

  static void gap(sdk::Feed& feed, uint32_t channel, const std::string& cause) {
    if (feed.gap(channel, cause)) fmt::print(stderr, "{}\n", cause);
  }
  void gap_all(sdk::Feed& feed, const std::string& cause) {
    for (std::optional<uint32_t> channel : {volts_, amps_}) {
      if (channel) gap(feed, *channel, cause);
    }
  }

  Settings settings_;
  std::optional<uint32_t> volts_, amps_;
  bool low_battery_ = false;
  int64_t heard_us_ = 0;
  int64_t volts_due_us_ = 0;
  int64_t amps_due_us_ = 0;
};

}  // namespace
}  // namespace fairlead::clamp

int main(int argc, char** argv) {
  fairlead::clamp::ClampPlugin plugin;
  return fairlead::sdk::run_plugin(argc, argv, {"clamp", "1.0"}, plugin);
}
