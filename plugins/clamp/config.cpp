// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugins/clamp/config.h"

#include "plugins/clamp/protocol.h"

namespace fairlead::clamp {

sdk::Problems read_settings(const std::string& toml, Settings& s) {
  sdk::Config config(toml);
  if (!config.readable()) return config.problems();
  sdk::Section root = config.root();
  s.source = root.text("source", "clamp");
  s.driver = root.text("driver");
  if (root.has("connection")) s.connection = root.text("connection");
  if (root.has("serial")) s.serial = root.text("serial");
  s.volts = root.word("volts", {"on", "off"}, "on") == "on";
  s.amps = root.word("amps", {"on", "off"}, "on") == "on";
  if (root.has("volts_channel")) s.volts_channel = root.text("volts_channel");
  if (root.has("amps_channel")) s.amps_channel = root.text("amps_channel");
  s.samplerate_hz = root.number("samplerate_hz", 0, 1000, 0);
  s.silent_after_us = root.whole("silent_after_ms", 500, 60'000, 3000) * 1000;
  s.least_interval_us = root.whole("least_interval_ms", 0, 60'000, 20) * 1000;
  if (!s.volts && !s.amps) root.wrong("amps", "both are off", "switch volts or amps on");
  root.finish();
  return config.problems();
}

std::vector<v1::PluginChannel> channels_of(const Settings& settings) {
  std::vector<v1::PluginChannel> channels;
  auto add = [&](const char* signal, const char* unit, double most) {
    v1::PluginChannel& c = channels.emplace_back();
    c.set_source(settings.source);
    c.set_signal(signal);
    c.set_unit(unit);
    c.set_range_lo(-most);
    c.set_range_hi(most);
    c.set_rate_hz(settings.samplerate_hz);
    c.set_clock_source(v1::PluginChannel::ARRIVAL);
    c.set_convention("as the meter's display shows it; its accuracy is in the meter's papers");
  };
  if (settings.volts) add("clamp.volts", "V", kMostVolts);
  if (settings.amps) add("clamp.amps", "A", kMostAmps);
  return channels;
}

}  // namespace fairlead::clamp
