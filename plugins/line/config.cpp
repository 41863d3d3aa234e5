#include "plugins/line/config.h"

#include <arpa/inet.h>
#include <fmt/format.h>

#include <cmath>
#include <limits>
#include <set>
#include <utility>

#include "daemon/base/nearest.h"
#include "daemon/record/observation_ranges.h"

namespace fairlead::line {

namespace {
void read_link(sdk::Section& link, LinkSettings& out) {
  out.tcp = link.word("kind", {"tcp", "rtu"}) == "tcp";
  // Below the heartbeat's limit of 2 s whatever happens.
  out.deadline_us = link.whole("deadline_ms", 20, 900, 300) * 1000;
  if (out.tcp) {
    out.host = link.text("host");
    in_addr address{};
    if (!out.host.empty() && inet_pton(AF_INET, out.host.c_str(), &address) != 1) {
      link.wrong("host", "is no IPv4 address", "give it as four numbers, e.g. 192.168.4.20");
    }
    out.port = static_cast<int>(link.whole("port", 1, 65535, 502));
  } else {
    out.serial = link.text("device");
    out.baud = static_cast<int>(link.whole("baud", 1200, 115200, 19200));
    std::string parity = link.word("parity", {"even", "odd", "none"}, "even");
    out.parity = parity == "even" ? 'E' : parity == "odd" ? 'O' : 'N';
    out.stop_bits = static_cast<int>(link.whole("stop_bits", 1, 2, out.parity == 'N' ? 2 : 1));
    out.rs485 = link.word("direction", {"driver", "none"}, "none") == "driver";
  }
  link.finish();
}

void check_signal(sdk::Section& table, const Register& r) {
  if (r.signal.empty()) return;
  auto range = record::range_of_signal(r.signal);
  if (!range) {
    table.wrong("signal", fmt::format("\"{}\" is unknown", r.signal),
                fmt::format("did you mean \"{}\"?", nearest(r.signal, record::signal_names())));
    return;
  }
  std::string_view unit = range->whole ? "1" : range->unit;
  if (!r.unit.empty() && r.unit != unit) {
    table.wrong("unit", fmt::format("{} is recorded in {}, not {}", r.signal, unit, r.unit),
                fmt::format("set scale so that the value comes out in {}", unit));
  }
}

Type type_of(const std::string& word) {
  if (word == "uint16") return Type::kUint16;
  if (word == "int32") return Type::kInt32;
  if (word == "uint32") return Type::kUint32;
  if (word == "float32") return Type::kFloat32;
  return Type::kInt16;
}

Order order_of(const std::string& word) {
  if (word == "cdab") return Order::kCdab;
  if (word == "badc") return Order::kBadc;
  if (word == "dcba") return Order::kDcba;
  return Order::kAbcd;
}

// deck.tilt comes from "deck" unless told otherwise.
std::string source_for(const std::string& signal) { return signal.substr(0, signal.find('.')); }

Register read_register(sdk::Section& table) {
  Register r;
  r.signal = table.text("signal");
  r.unit = table.text("unit");
  r.source = table.text("source", source_for(r.signal));
  r.device = static_cast<int>(table.whole("unit_id", 0, 247, 1));
  r.kind = table.word("kind", {"input", "holding"}) == "input" ? Kind::kInput : Kind::kHolding;
  r.address = static_cast<int>(table.whole("address", 0, 65535));
  r.type = type_of(table.word("type", {"int16", "uint16", "int32", "uint32", "float32"}));
  r.order = order_of(table.word("word_order", {"abcd", "cdab", "badc", "dcba"}, "abcd"));
  r.scale = table.number("scale", -1e9, 1e9, 1.0);
  r.offset = table.number("offset", -1e9, 1e9, 0.0);
  constexpr int64_t kLo = std::numeric_limits<int32_t>::min();
  constexpr int64_t kHi = std::numeric_limits<uint32_t>::max();
  r.overload = table.whole_list("overload", kLo, kHi);
  r.broken = table.whole_list("broken", kLo, kHi);
  if (r.scale == 0) table.wrong("scale", "is 0", "give what one step is worth in the unit");
  if (r.address + words_of(r.type) > 65536) {
    table.wrong("address", "the value ends past register 65535", "check the register's number");
  }
  bool codes = !r.overload.empty() || !r.broken.empty();
  if (r.type == Type::kFloat32 && codes) {
    table.wrong(r.overload.empty() ? "broken" : "overload", "codes are for whole numbers",
                "leave it out: a float32 device says NaN, which is recorded as a gap");
  }
  check_signal(table, r);
  table.finish();
  return r;
}

std::pair<double, double> raw_range(Type type) {
  switch (type) {
    case Type::kInt16:
      return {-32768, 32767};
    case Type::kUint16:
      return {0, 65535};
    case Type::kInt32:
      return {-2147483648.0, 2147483647.0};
    case Type::kUint32:
      return {0, 4294967295.0};
    case Type::kFloat32:
      break;
  }
  return {0, 0};
}
}  // namespace

sdk::Problems read_settings(const std::string& toml, Settings& settings) {
  sdk::Config config(toml);
  if (!config.readable()) return config.problems();
  sdk::Section root = config.root();
  settings.period_us = root.whole("period_ms", 10, 60'000, 100) * 1000;
  if (auto link = root.table("link")) {
    read_link(*link, settings.link);
  } else if (!root.has("link")) {
    root.wrong("link", "is missing", "give a [link] table with kind = \"tcp\" or \"rtu\"");
  }
  std::vector<sdk::Section> tables = root.tables("register");
  if (tables.empty()) root.wrong("register", "is missing", "give one [[register]] table or more");
  std::set<std::pair<std::string, std::string>> seen;
  for (sdk::Section& table : tables) {
    Register r = read_register(table);
    if (!r.signal.empty() && !seen.emplace(r.source, r.signal).second) {
      table.wrong("signal", fmt::format("{} of {} is there twice", r.signal, r.source),
                  "give the second another source");
    }
    settings.registers.push_back(std::move(r));
  }
  root.finish();
  return config.problems();
}

std::vector<v1::PluginChannel> channels_of(const Settings& settings) {
  std::vector<v1::PluginChannel> channels;
  for (const Register& r : settings.registers) {
    v1::PluginChannel& c = channels.emplace_back();
    c.set_source(r.source);
    c.set_signal(r.signal);
    c.set_unit(r.unit);
    auto [lo, hi] = raw_range(r.type);
    c.set_range_lo(std::min(lo * r.scale, hi * r.scale) + (hi > lo ? r.offset : 0));
    c.set_range_hi(std::max(lo * r.scale, hi * r.scale) + (hi > lo ? r.offset : 0));
    c.set_resolution(r.type == Type::kFloat32 ? 0 : std::abs(r.scale));
    c.set_rate_hz(1e6 / static_cast<double>(settings.period_us));
    c.set_clock_source(v1::PluginChannel::ARRIVAL);
  }
  return channels;
}

}  // namespace fairlead::line
