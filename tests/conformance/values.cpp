// Groups 04, 05, 06, 12 and 14: what is said.
#include <fmt/format.h>
#include <sys/mman.h>

#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>

#include "daemon/record/observation_ranges.h"
#include "tests/conformance/play.h"

namespace fairlead::conformance {

namespace {
using namespace std::chrono_literals;
constexpr int64_t kSlackUs = 1'000'000;
constexpr int64_t kHourUs = 3'600'000'000;

bool check_batches(Findings& f, const std::vector<Said>& all) {
  uint64_t next = 1;
  for (const Said& s : all) {
    if (!s.frame.has_batch()) continue;
    uint64_t seq = s.frame.batch().batch_seq();
    if (!f.check(seq == next, "batches are numbered from 1 without a hole",
                 fmt::format("batch {} instead of {}", seq, next))) {
      return false;
    }
    ++next;
    int size = s.frame.batch().readings_size();
    f.check(size > 0 && size <= 4096, "1 to 4,096 readings a batch", std::to_string(size));
  }
  return true;
}

void check_clocks(Findings& f, const Play& play, int64_t offset_us) {
  std::map<uint32_t, int64_t> last_us;
  int64_t now_us = mono_now_us();
  for (const v1::PluginReading& r : play.readings()) {
    if (!f.check(r.wall_us() > 0 && r.mono_us() > 0, "every reading has both clocks")) return;
    bool lived = r.mono_us() >= play.started_us - kSlackUs && r.mono_us() <= now_us;
    if (!f.check(lived, "was taken while the plugin ran", fmt::format("mono_us {}", r.mono_us())))
      return;
    int64_t off_us = r.wall_us() - r.mono_us() - offset_us;
    if (!f.check(std::abs(off_us) < kSlackUs, "both clocks are this machine's",
                 fmt::format("wall_us is off by {} s", off_us / 1'000'000))) {
      return;
    }
    int64_t& before_us = last_us[r.channel()];
    if (!f.check(r.mono_us() >= before_us, "time does not run back within a channel")) return;
    before_us = r.mono_us();
  }
}

void check_value(Findings& f, const v1::PluginChannel& c, const v1::PluginReading& r,
                 std::map<uint32_t, double>& first) {
  double value = r.value();
  std::string seen = fmt::format("{} {} says {}", c.source(), c.signal(), value);
  if (!f.check(std::isfinite(value), "no value is NaN or infinite", seen)) return;
  bool good = r.quality() == v1::Quality::GOOD || r.quality() == v1::Quality::UNSET;
  if (!good) return;  // Its value counts as unknown.
  auto sane = record::range_of_signal(c.signal());
  if (!sane) return;  // Group 02 has said so.
  f.check(value >= sane->lo && value <= sane->hi, "values are sane", seen);
  double slack = 1e-9 * std::max({1.0, std::abs(c.range_lo()), std::abs(c.range_hi())});
  bool ranged = c.range_lo() < c.range_hi();
  bool fits = value >= c.range_lo() - slack && value <= c.range_hi() + slack;
  f.check(!ranged || fits, "values lie in the declared range", seen);
  if (c.resolution() <= 0) return;
  double steps = (value - first.try_emplace(r.channel(), value).first->second) / c.resolution();
  f.check(std::abs(steps - std::round(steps)) < 1e-3, "values step by the declared resolution",
          seen);
}

void check_reading(Findings& f, const std::vector<v1::PluginChannel>& channels,
                   const v1::PluginReading& r, std::map<uint32_t, double>& first) {
  if (!f.check(r.channel() < channels.size(), "every reading is of a described channel")) return;
  const v1::PluginChannel& c = channels[r.channel()];
  f.check(v1::Quality::Word_IsValid(r.quality()), "the quality is a word of the contract");
  bool fix = c.signal() == "fix";
  switch (r.what_case()) {
    case v1::PluginReading::kValue:
      if (f.check(!fix, "a channel of fixes gives fixes")) check_value(f, c, r, first);
      break;
    case v1::PluginReading::kFix:
      f.check(fix, "a channel of samples gives samples");
      f.check(std::abs(r.fix().lat_deg()) <= 90 && std::abs(r.fix().lon_deg()) <= 180,
              "a fix is on this planet");
      break;
    case v1::PluginReading::kGap:
      f.check(!r.gap().cause().empty(), "a gap says why");
      break;
    case v1::PluginReading::kState:
      f.check(!r.state().empty(), "a state has words");
      break;
    case v1::PluginReading::WHAT_NOT_SET:
      f.check(false, "no reading is empty");
  }
}
}  // namespace

// seq gapless, timestamps monotone, both clocks present.
void order_and_clocks(const Options& o, Findings& f) {
  int64_t offset_us = wall_now_us() - mono_now_us();
  Play play(o);
  if (!f.check(play.described(), "describes itself", play.subject->err())) return;
  f.check(!o.wire || play.reads(10s), "delivers a reading within 10 s");
  Play::sleep(1500ms);
  if (!check_batches(f, play.stage->said())) return;
  check_clocks(f, play, offset_us);
  std::map<int, int> hellos, descriptions;
  for (const Said& s : play.stage->said()) {
    hellos[s.stream] += s.frame.has_hello() ? 1 : 0;
    descriptions[s.stream] += s.frame.has_described() ? 1 : 0;
  }
  for (const auto& [stream, count] : hellos) f.check(count == 1, "one hello a stream");
  for (const auto& [stream, count] : descriptions) f.check(count == 1, "one description a stream");
  uint64_t turns = 0;
  for (const Said& s : play.stage->said()) {
    if (!s.frame.has_heartbeat()) continue;
    f.check(s.frame.heartbeat().turns() > turns, "each heartbeat tells of further turns");
    turns = s.frame.heartbeat().turns();
  }
}

// heartbeat with the sensor idle, before the daemon takes it for silent.
void heartbeat(const Options& o, Findings& f) {
  Play play(o);
  if (!f.check(play.described(), "describes itself", play.subject->err())) return;
  if (play.wire) play.reads(10s);
  if (play.wire) play.wire->set_mode(Mode::kSilent);
  int64_t from_us = mono_now_us();
  int64_t late_us = Play::sleep(3500ms);
  int64_t last_us = from_us;
  int64_t longest_us = 0;
  int beats = 0;
  for (const Said& s : play.stage->said()) {
    if (!s.frame.has_heartbeat() || s.at_us < from_us) continue;
    longest_us = std::max(longest_us, s.at_us - last_us);
    last_us = s.at_us;
    ++beats;
  }
  longest_us = std::max(longest_us, mono_now_us() - last_us);
  f.check(beats > 0 && longest_us < kStaleUs + 4 * late_us,
          "a heartbeat every 0.5 s, never 1.5 s without",
          fmt::format("{} of them, longest pause {} ms", beats, longest_us / 1000));
}

// per-channel validator: range, step, NaN never, quality flag legal.
void values(const Options& o, Findings& f) {
  Play play(o);
  if (!f.check(play.described(), "describes itself", play.subject->err())) return;
  f.check(!o.wire || play.reads(10s), "delivers a reading within 10 s");
  Play::sleep(2000ms);
  std::vector<v1::PluginChannel> channels = play.channels();
  std::map<uint32_t, double> first;
  for (const v1::PluginReading& r : play.readings()) {
    check_reading(f, channels, r, first);
    if (f.failed.size() > 20) return;
  }
}

// The wall clock of the plugin alone is stepped, by a library put before its own.
void clock_step(const Options& o, Findings& f) {
  if (o.clock_shim.empty() || !std::filesystem::exists(o.clock_shim)) {
    f.skipped = "no clock library; name it by --clock-shim";
    return;
  }
  Play play(o, "", false);
  std::filesystem::path file = play.folder / "clock";
  std::ofstream(file, std::ios::binary) << std::string(8, '\0');
  auto step_to = [&](int64_t offset_us) {
    std::fstream out(file, std::ios::binary | std::ios::in | std::ios::out);
    out.write(reinterpret_cast<const char*>(&offset_us), sizeof offset_us);
  };
  play.start({"LD_PRELOAD=" + o.clock_shim.string(), "FAIRLEAD_CLOCK_FILE=" + file.string()});
  if (!f.check(play.described(), "describes itself", play.subject->err())) return;
  f.check(!o.wire || play.reads(10s), "delivers a reading");
  for (int64_t offset_us : {kHourUs, -kHourUs}) {
    const char* way = offset_us > 0 ? "after a step ahead" : "after a step back";
    step_to(offset_us);
    const int64_t stepped_us = mono_now_us();
    Play::sleep(200ms);
    size_t from = play.mark();
    f.check(play.beats_within(2000ms), std::string("its loop turns ") + way);
    f.check(play.subject->running(), std::string("it runs ") + way);
    if (!o.wire) continue;
    // On a busy machine what was read before the step may still be on its way.
    f.check(play.reads(5s, from, stepped_us), std::string("it reads ") + way);
    int64_t due_us = wall_now_us() - mono_now_us() + offset_us;
    std::vector<v1::PluginReading> last = play.readings(from);
    std::erase_if(last, [&](const v1::PluginReading& r) { return r.mono_us() < stepped_us; });
    if (last.empty()) continue;
    int64_t off_us = last.back().wall_us() - last.back().mono_us() - due_us;
    f.check(std::abs(off_us) < kSlackUs, std::string("wall_us follows the clock ") + way);
  }
}

namespace {
nlohmann::ordered_json as_json(const v1::PluginChannel& c, const v1::PluginReading& r) {
  nlohmann::ordered_json line{{"source", c.source()}, {"signal", c.signal()}};
  if (r.has_value()) line["value"] = r.value();
  if (r.has_gap()) line["gap"] = r.gap().cause();
  if (!r.state().empty()) line["state"] = r.state();
  if (r.has_fix()) {
    const v1::Fix& fix = r.fix();
    line["fix"] = {fix.lat_deg(), fix.lon_deg(), fix.speed_mps(), fix.mode()};
  }
  if (r.quality() > v1::Quality::GOOD) line["quality"] = v1::Quality::Word_Name(r.quality());
  return line;
}

bool same(const nlohmann::ordered_json& want, const nlohmann::ordered_json& got) {
  if (want.size() != got.size()) return false;
  for (const auto& [key, value] : want.items()) {
    if (!got.contains(key)) return false;
    if (value.is_number()) {
      double a = value, b = got[key];
      if (std::abs(a - b) > 1e-9 * std::max(1.0, std::abs(a))) return false;
    } else if (value != got[key]) {
      return false;
    }
  }
  return true;
}

// All readings; with `align` (a plugin that looks for its instrument first misses the beginning)
// those from the first that is as expected on.
std::vector<v1::PluginReading> readings_of(const Play& play,
                                           const std::vector<nlohmann::ordered_json>& want,
                                           bool align) {
  std::vector<v1::PluginReading> got = play.readings();
  std::vector<v1::PluginChannel> channels = play.channels();
  if (!align || want.empty()) return got;
  auto first = std::find_if(got.begin(), got.end(), [&](const v1::PluginReading& r) {
    return r.channel() < channels.size() && same(want[0], as_json(channels[r.channel()], r));
  });
  return {first, got.end()};
}
}  // namespace

// Golden replay: readings of the first round of the script, in order; times are not compared.
void golden(const Options& o, Findings& f) {
  if (!o.wire || (o.expect.empty() && o.write_expect.empty())) {
    f.skipped = "no recorded bytes; name them by --device and --expect";
    return;
  }
  std::vector<nlohmann::ordered_json> want;
  std::ifstream in(o.expect);
  bool align = false;
  for (std::string text; std::getline(in, text);) {
    align = align || text.starts_with("# align");
    if (!text.empty() && text[0] == '{') want.push_back(nlohmann::ordered_json::parse(text));
  }
  Play play(o);
  bool write = !o.write_expect.empty();
  auto until = std::chrono::steady_clock::now() + 20s;
  while (std::chrono::steady_clock::now() < until) {
    if (write ? play.wire->rounds() >= 1 : readings_of(play, want, align).size() >= want.size()) {
      break;
    }
    Play::sleep(50ms);
  }
  std::vector<v1::PluginChannel> channels = play.channels();
  std::vector<v1::PluginReading> got = readings_of(play, want, align);
  if (write) {
    std::ofstream out(o.write_expect);
    for (const v1::PluginReading& r : got) {
      if (r.channel() < channels.size()) out << as_json(channels[r.channel()], r).dump() << '\n';
    }
    f.skipped = "wrote " + o.write_expect.string();
    return;
  }
  f.check(!want.empty(), "there is something to expect", o.expect.string());
  f.check(play.wire->surprise().empty(), "asks the instrument what was recorded",
          play.wire->surprise());
  f.check(got.size() >= want.size(), "as many readings as expected",
          fmt::format("{} of {}", got.size(), want.size()));
  for (size_t i = 0; i < std::min(want.size(), got.size()); ++i) {
    if (got[i].channel() >= channels.size()) continue;
    nlohmann::ordered_json line = as_json(channels[got[i].channel()], got[i]);
    if (!f.check(same(want[i], line), "each is the one expected",
                 fmt::format("reading {} is {} and not {}", i + 1, line.dump(), want[i].dump()))) {
      return;
    }
  }
}

}  // namespace fairlead::conformance
