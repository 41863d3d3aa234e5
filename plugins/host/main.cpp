// Runs one vendor's driver in C as a plugin: fairlead-plugin-host. The driver's crash or hang ends
// this process and nothing else.
#include <fmt/format.h>

#include <chrono>
#include <optional>
#include <string>

#include "plugins/host/driver.h"
#include "plugins/sdk/plugin.h"

namespace fairlead::host {
namespace {

using namespace std::chrono_literals;
constexpr uint32_t kWaitMs = 100;
constexpr int64_t kRedialUs = 500'000;
// Readings taken in one turn before the heartbeat.
constexpr int kReadingsATurn = 256;

v1::Quality::Word quality_of(uint32_t word) {
  switch (word) {
    case FAIRLEAD_GOOD:
      return v1::Quality::GOOD;
    case FAIRLEAD_OVERLOAD:
      return v1::Quality::OVERLOAD;
    case FAIRLEAD_BROKEN:
      return v1::Quality::BROKEN;
    default:
      return v1::Quality::SUSPECT;
  }
}

class HostPlugin : public sdk::Plugin {
 public:
  sdk::Problems configure(const std::string& toml,
                          std::vector<v1::PluginChannel>& channels) override {
    sdk::Config config(toml);
    if (!config.readable()) return config.problems();
    sdk::Section root = config.root();
    std::string file = root.text("driver");
    std::vector<std::pair<std::string, std::string>> settings;
    if (auto table = root.table("settings")) settings = table->rest();
    root.finish();
    if (!config.problems().empty()) return config.problems();
    auto driver = Driver::load(file);
    if (!driver) {
      root.wrong("driver", driver.error().message, "see the driver's papers");
      return config.problems();
    }
    driver_ = *driver;
    sdk::Problems problems = driver_->configure(settings, channels);
    channels_ = static_cast<uint32_t>(channels.size());
    return problems;
  }

  void run(sdk::Feed& feed) override {
    bool open = false;
    int64_t redial_us = 0;
    while (!feed.stopping()) {
      int64_t now_us = sdk::now().mono_us;
      if (!open && now_us >= redial_us) {
        open = driver_->open();
        redial_us = now_us + kRedialUs;
        if (!open) lost(feed);
      }
      if (open) {
        open = take(feed);
      } else if (feed.wait(50ms)) {
        break;
      }
      feed.beat();
    }
    driver_->close();
  }

 private:
  // False: the instrument is gone.
  bool take(sdk::Feed& feed) {
    fairlead_reading reading{};
    for (int i = 0; i < kReadingsATurn; ++i) {
      int32_t result = driver_->read(reading, i == 0 ? kWaitMs : 0);
      if (result < 0) {
        lost(feed);
        return false;
      }
      if (result == FAIRLEAD_NOTHING) return true;
      put(feed, reading);
    }
    return true;
  }

  void put(sdk::Feed& feed, const fairlead_reading& reading) {
    if (reading.channel >= channels_) return;
    std::string words = reading.words == nullptr ? "" : reading.words;
    switch (reading.kind) {
      case FAIRLEAD_VALUE:
        feed.sample(reading.channel, reading.value, sdk::now(), quality_of(reading.quality));
        break;
      case FAIRLEAD_GAP:
        gap(feed, reading.channel, words.empty() ? "the driver says so" : words);
        break;
      case FAIRLEAD_STATE:
        if (!words.empty()) feed.state(reading.channel, words);
        break;
      default:
        break;  // Of a later version: not for us.
    }
  }

  void lost(sdk::Feed& feed) {
    std::string words = driver_->trouble();
    driver_->close();
    for (uint32_t i = 0; i < channels_; ++i) gap(feed, i, words);
  }

  static void gap(sdk::Feed& feed, uint32_t channel, const std::string& cause) {
    if (feed.gap(channel, cause)) fmt::print(stderr, "{}\n", cause);
  }

  std::optional<Driver> driver_;
  uint32_t channels_ = 0;
};

}  // namespace
}  // namespace fairlead::host

int main(int argc, char** argv) {
  fairlead::host::HostPlugin plugin;
  return fairlead::sdk::run_plugin(argc, argv, {"host", "1.0"}, plugin);
}
