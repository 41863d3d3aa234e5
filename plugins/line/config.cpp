#include "plugins/line/config.h"

#include <arpa/inet.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>
#include <utility>

#include "daemon/base/nearest.h"
#include "daemon/base/time_text.h"
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
  if (word == "bit") return Type::kBit;
  return Type::kInt16;
}

Order order_of(const std::string& word) {
  if (word == "cdab") return Order::kCdab;
  if (word == "badc") return Order::kBadc;
  if (word == "dcba") return Order::kDcba;
  return Order::kAbcd;
}

Kind kind_of(const std::string& word) {
  if (word == "holding") return Kind::kHolding;
  if (word == "discrete") return Kind::kDiscrete;
  if (word == "coil") return Kind::kCoil;
  return Kind::kInput;
}

Filter read_filter(sdk::Section& table) {
  Filter filter;
  std::string word = table.word("filter", {"none", "median3", "median5", "lowpass"}, "none");
  if (word == "median3") filter.kind = Filter::Kind::kMedian3;
  if (word == "median5") filter.kind = Filter::Kind::kMedian5;
  if (word != "lowpass") return filter;
  filter.kind = Filter::Kind::kLowPass;
  filter.tau_us = table.whole("filter_ms", 1, 10'000) * 1000;
  return filter;
}

bool is_date(const std::string& text) {
  bool shape = text.size() == 10 && text[4] == '-' && text[7] == '-';
  return shape && parse_time_us(text + "T00:00:00Z").has_value();
}

std::optional<physics::Calibration> read_calibration(sdk::Section& table) {
  auto section = table.table("calibration");
  if (!section) return std::nullopt;
  physics::Calibration out;
  out.certificate = section->text("certificate");
  out.date = section->text("date");
  if (!out.date.empty() && !is_date(out.date)) {
    section->wrong("date", fmt::format("\"{}\" is no date", out.date), "write it as 2026-03-02");
  }
  if (out.certificate.size() > 64) {
    section->wrong("certificate", "is too long", "give its number, at most 64 characters");
  }
  out.zero = section->number("zero", -1e9, 1e9, 0.0);
  out.span = section->number("span", -1e6, 1e6, 1.0);
  if (out.span == 0) section->wrong("span", "is 0", "fairlead calibrate works it out");
  section->finish();
  return out;
}

std::optional<Rope> read_drum(sdk::Section& table, const std::string& signal) {
  auto section = table.table("drum");
  if (!section) return std::nullopt;
  DrumSize drum;
  drum.diameter_mm = section->number("diameter_mm", 1, 5000);
  drum.width_mm = section->number("width_mm", 1, 5000);
  drum.rope_mm = section->number("rope_mm", 1, 100);
  drum.rope_length_m = section->number("rope_length_m", 0.1, 1000);
  section->finish();
  if (signal != "line.out") {
    table.wrong("drum", "is for line.out only", "leave it out, or name the signal line.out");
    return std::nullopt;
  }
  auto rope = rope_on(drum);
  if (rope) return *rope;
  table.wrong("drum", rope.error().message, "measure drum and rope");
  return std::nullopt;
}

// deck.tilt comes from "deck" unless told otherwise.
std::string source_for(const std::string& signal) { return signal.substr(0, signal.find('.')); }

void read_place(sdk::Section& table, Register& r) {
  r.device = static_cast<int>(table.whole("unit_id", 0, 247, 1));
  r.kind = kind_of(table.word("kind", {"input", "holding", "discrete", "coil"}));
  bool single = r.kind == Kind::kDiscrete || r.kind == Kind::kCoil;
  r.address = static_cast<int>(table.whole("address", 0, 65535));
  std::optional<std::string> bit = single ? std::optional<std::string>("bit") : std::nullopt;
  r.type =
      type_of(table.word("type", {"int16", "uint16", "int32", "uint32", "float32", "bit"}, bit));
  if (single && r.type != Type::kBit) {
    table.wrong("type", "discrete inputs and coils are bits", "leave it out");
  }
  if (!single && r.type == Type::kBit) r.bit = static_cast<int>(table.whole("bit", 0, 15));
  r.order = order_of(table.word("word_order", {"abcd", "cdab", "badc", "dcba"}, "abcd"));
  if (r.address + words_of(r.type) > 65536) {
    table.wrong("address", "the value ends past register 65535", "check the register's number");
  }
}

void read_codes(sdk::Section& table, Register& r) {
  constexpr int64_t kLo = std::numeric_limits<int32_t>::min();
  constexpr int64_t kHi = std::numeric_limits<uint32_t>::max();
  r.overload = table.whole_list("overload", kLo, kHi);
  r.broken = table.whole_list("broken", kLo, kHi);
  bool codes = !r.overload.empty() || !r.broken.empty();
  if (r.type == Type::kFloat32 && codes) {
    table.wrong(r.overload.empty() ? "broken" : "overload", "codes are for whole numbers",
                "leave it out: a float32 device says NaN, which is recorded as a gap");
  }
}

Register read_register(sdk::Section& table) {
  Register r;
  r.signal = table.text("signal");
  r.unit = table.text("unit");
  r.source = table.text("source", source_for(r.signal));
  read_place(table, r);
  r.scale = table.number("scale", -1e9, 1e9, 1.0);
  r.offset = table.number("offset", -1e9, 1e9, 0.0);
  if (r.scale == 0) table.wrong("scale", "is 0", "give what one step is worth in the unit");
  read_codes(table, r);
  r.filter = read_filter(table);
  r.calibration = read_calibration(table);
  r.rope = read_drum(table, r.signal);
  check_signal(table, r);
  table.finish();
  return r;
}

Output read_output(sdk::Section& table) {
  Output out;
  out.name = table.text("output");
  out.about = table.text("about", "");
  out.device = static_cast<int>(table.whole("unit_id", 0, 247, 1));
  out.address = static_cast<int>(table.whole("coil", 0, 65535));
  table.finish();
  return out;
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
    case Type::kBit:
      return {0, 1};
    case Type::kFloat32:
      break;
  }
  return {0, 0};
}

// What was done to the instrument's figure on its way, for the record.
std::string convention_of(const Register& r) {
  std::string text = filter_text(r.filter);
  if (!r.rope) return text;
  if (!text.empty()) text += "; ";
  return text + fmt::format("turns of a drum, {} m of rope in {} layers", r.rope->length_m,
                            r.rope->up_to_m.size());
}

void set_range(const Register& r, v1::PluginChannel& channel) {
  auto [lo, hi] = raw_range(r.type);
  if (lo == hi) return;
  double first = value_of(r, lo), second = value_of(r, hi);
  channel.set_range_lo(std::min(first, second));
  channel.set_range_hi(std::max(first, second));
  double span = r.calibration ? std::abs(r.calibration->span) : 1;
  if (!r.rope) channel.set_resolution(std::abs(r.scale) * span);
}

void read_outputs(sdk::Section& root, Settings& settings) {
  std::set<std::string> seen;
  for (sdk::Section& table : root.tables("output")) {
    Output out = read_output(table);
    if (!out.name.empty() && !seen.insert(out.name).second) {
      table.wrong("output", fmt::format("\"{}\" is there twice", out.name),
                  "give each coil its own name");
    }
    settings.outputs.push_back(std::move(out));
  }
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
  read_outputs(root, settings);
  if (tables.empty() && settings.outputs.empty()) {
    root.wrong("register", "is missing", "give one [[register]] table or more");
  }
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
    set_range(r, c);
    c.set_rate_hz(1e6 / static_cast<double>(settings.period_us));
    c.set_clock_source(v1::PluginChannel::ARRIVAL);
    c.set_convention(convention_of(r));
    if (r.calibration) c.set_calibration(physics::calibration_text(*r.calibration));
  }
  return channels;
}

std::vector<v1::PluginOutput> outputs_of(const Settings& settings) {
  std::vector<v1::PluginOutput> outputs;
  for (const Output& out : settings.outputs) {
    v1::PluginOutput& o = outputs.emplace_back();
    o.set_output(out.name);
    o.set_about(out.about);
  }
  return outputs;
}

}  // namespace fairlead::line
