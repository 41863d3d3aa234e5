// The line plugin: polls Modbus registers (load cell, rope counter, tilt and whatever else speaks
// it) over TCP or RTU. A device that does not answer is a gap and another try.
#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <string>
#include <vector>

#include "plugins/line/config.h"
#include "plugins/line/modbus_link.h"
#include "plugins/line/protocol.h"
#include "plugins/line/switchboard.h"
#include "plugins/sdk/plugin.h"

namespace fairlead::line {
namespace {

constexpr int64_t kRedialUs = 500'000;
// Longest sleep in one go: the heartbeat has to go on.
constexpr int64_t kLongestSleepUs = 200'000;

class LinePlugin : public sdk::Plugin {
 public:
  sdk::Problems configure(const std::string& toml,
                          std::vector<v1::PluginChannel>& channels) override {
    sdk::Problems problems = read_settings(toml, settings_);
    channels = channels_of(settings_);
    return problems;
  }

  std::vector<v1::PluginOutput> outputs() const override { return outputs_of(settings_); }

  void run(sdk::Feed& feed) override {
    ModbusLink link(settings_.link, [&] { feed.beat(); });
    Switchboard switches(settings_.outputs);
    blocks_ = plan_reads(settings_.registers);
    missing_.assign(settings_.registers.size(), false);
    filters_.clear();
    for (const Register& r : settings_.registers) filters_.emplace_back(r.filter);
    int64_t due_us = sdk::now().mono_us;
    while (!feed.stopping()) {
      if (!link.is_open() && sdk::now().mono_us >= redial_us_) dial(link, feed);
      switches.turn(link, feed);
      if (link.is_open()) poll(link, feed);
      feed.beat();
      // A slow device makes the period longer; nothing is caught up.
      due_us = std::max(due_us + settings_.period_us, sdk::now().mono_us);
      sleep_until(feed, due_us, [&] { switches.turn(link, feed); });
    }
    switches.all_off(link);
  }

 private:
  void dial(ModbusLink& link, sdk::Feed& feed) {
    if (auto ok = link.open(); !ok) {
      redial_us_ = sdk::now().mono_us + kRedialUs;
      lose_all(feed, ok.error().message);
    }
  }

  void poll(ModbusLink& link, sdk::Feed& feed) {
    for (const Block& block : blocks_) {
      if (!link.is_open()) return;
      auto words = link.read(block);
      sdk::Stamp at = sdk::now();
      for (size_t member : block.members) {
        auto channel = static_cast<uint32_t>(member);
        if (words) {
          take(feed, channel, block, *words, at);
        } else {
          miss(feed, channel, words.error().message);
        }
      }
      if (!link.is_open()) lose_all(feed, words.error().message);
    }
  }

  void lose_all(sdk::Feed& feed, const std::string& cause) {
    for (uint32_t i = 0; i < missing_.size(); ++i) miss(feed, i, cause);
  }

  void take(sdk::Feed& feed, uint32_t channel, const Block& block,
            const std::vector<uint16_t>& words, sdk::Stamp at) {
    const Register& r = settings_.registers[channel];
    std::span<const uint16_t> all(words);
    Value v = evaluate(r, all.subspan(static_cast<size_t>(r.address - block.address),
                                      static_cast<size_t>(words_of(r.type))));
    if (!std::isfinite(v.value)) {
      miss(feed, channel, "the device sent no number");
      return;
    }
    missing_[channel] = false;
    if (v.quality == v1::Quality::GOOD) {
      v.value = filters_[channel].next(v.value, at.mono_us);
    } else {
      filters_[channel].forget();
    }
    feed.sample(channel, v.value, at, v.quality);
  }

  // One gap mark a loss, whatever its causes: they may take turns while it lasts.
  void miss(sdk::Feed& feed, uint32_t channel, const std::string& cause) {
    filters_[channel].forget();
    if (missing_[channel]) return;
    missing_[channel] = true;
    feed.gap(channel, cause);
    fmt::print(stderr, "{}: {}\n", settings_.registers[channel].signal, cause);
  }

  template <typename Woken>
  static void sleep_until(sdk::Feed& feed, int64_t due_us, Woken woken) {
    while (true) {
      int64_t left_us = due_us - sdk::now().mono_us;
      if (left_us <= 0) return;
      if (feed.wait(std::chrono::microseconds(std::min(left_us, kLongestSleepUs)))) return;
      woken();
      feed.beat();
    }
  }

  Settings settings_;
  std::vector<Block> blocks_;
  std::vector<bool> missing_;
  std::vector<FilterState> filters_;
  int64_t redial_us_ = 0;
};

}  // namespace
}  // namespace fairlead::line

int main(int argc, char** argv) {
  fairlead::line::LinePlugin plugin;
  return fairlead::sdk::run_plugin(argc, argv, {"line", "1.0"}, plugin);
}
