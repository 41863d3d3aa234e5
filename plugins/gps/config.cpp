#include "plugins/gps/config.h"

#include <set>

#include "plugins/gps/protocol.h"

namespace fairlead::gps {

sdk::Problems read_settings(const std::string& toml, Settings& settings) {
  sdk::Config config(toml);
  if (!config.readable()) return config.problems();
  sdk::Section root = config.root();
  std::vector<sdk::Section> tables = root.tables("receiver");
  if (tables.empty()) root.wrong("receiver", "is missing", "give one [[receiver]] table or more");
  std::set<std::string> sources;
  for (sdk::Section& table : tables) {
    Receiver r;
    r.source = table.text("source");
    // gpsd speaks in the clear and believes everyone: only on this machine.
    r.host = table.word("host", {"127.0.0.1", "::1", "localhost"}, "127.0.0.1");
    r.port = static_cast<int>(table.whole("port", 1, 65535, 2947));
    if (table.has("device")) r.device = table.text("device");
    r.silent_after_us = table.whole("silent_after_ms", 500, 600'000, 3000) * 1000;
    r.settle_us = table.whole("settle_ms", 20, 5000, 200) * 1000;
    if (!r.source.empty() && !sources.insert(r.source).second) {
      table.wrong("source", "\"" + r.source + "\" is there twice", "give each receiver its own");
    }
    table.finish();
    settings.receivers.push_back(std::move(r));
  }
  root.finish();
  return config.problems();
}

std::vector<v1::PluginChannel> channels_of(const Settings& settings) {
  std::vector<v1::PluginChannel> channels;
  for (const Receiver& r : settings.receivers) {
    v1::PluginChannel& c = channels.emplace_back();
    c.set_source(r.source);
    c.set_signal("fix");
    c.set_unit("fix");
    c.set_clock_source(v1::PluginChannel::ARRIVAL);
    c.set_convention(std::string(kConvention));
  }
  return channels;
}

}  // namespace fairlead::gps
