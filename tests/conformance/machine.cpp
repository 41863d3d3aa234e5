// Groups 07, 09, 10, 11, 13 and 15: the process and its instrument.
#include <fmt/format.h>
#include <signal.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "tests/conformance/play.h"

namespace fairlead::conformance {

namespace {
using namespace std::chrono_literals;
constexpr int64_t kDeafGrowthKib = 16 * 1024;
constexpr int64_t kSoakGrowthKib = 4 * 1024;

bool begins(const Options& o, Findings& f, Play& play) {
  if (!f.check(play.described(), "describes itself", play.subject->err())) return false;
  return !o.wire || f.check(play.reads(10s), "delivers a reading within 10 s");
}

// Readings of a channel, and those its gaps say were lost.
struct Count {
  uint64_t got = 0;
  uint64_t lost = 0;
};
std::map<uint32_t, Count> count(const std::vector<v1::PluginReading>& readings) {
  std::map<uint32_t, Count> out;
  for (const v1::PluginReading& r : readings) {
    if (r.has_value() || r.has_fix()) ++out[r.channel()].got;
    if (r.has_gap()) out[r.channel()].lost += r.gap().lost();
  }
  return out;
}
}  // namespace

// host stops reading: RSS bounded, gap marked afterwards.
void deaf_host(const Options& o, Findings& f) {
  Play play(o);
  if (!begins(o, f, play)) return;
  Play::sleep(500ms);
  int64_t before_kib = play.subject->rss_kib();
  int64_t from_us = mono_now_us();
  play.stage->set_reading(false);
  play.stage->set_acking(false);
  Play::sleep(std::chrono::seconds(o.stall_s));
  int64_t grown_kib = play.subject->rss_kib() - before_kib;
  f.check(play.subject->running(), "it lives through it");
  f.check(grown_kib < kDeafGrowthKib, "its memory stays bounded",
          fmt::format("it grew by {} MiB in {} s", grown_kib / 1024, o.stall_s));
  play.stage->set_acking(true);
  play.stage->set_reading(true);
  f.check(play.beats_within(3000ms), "it goes on afterwards");
  Play::sleep(1000ms);
  double span_s = static_cast<double>(mono_now_us() - from_us) / 1e6;
  std::vector<v1::PluginReading> during;
  for (const v1::PluginReading& r : play.readings()) {
    if (r.mono_us() >= from_us) during.push_back(r);
  }
  std::map<uint32_t, Count> counts = count(during);
  std::vector<v1::PluginChannel> channels = play.channels();
  for (uint32_t i = 0; i < channels.size(); ++i) {
    if (channels[i].rate_hz() <= 0 || !o.wire) continue;
    double due = channels[i].rate_hz() * span_s;
    auto there = static_cast<double>(counts[i].got + counts[i].lost);
    f.check(there > 0.5 * due, "what is missing afterwards is marked as a gap",
            fmt::format("{}: {} read or marked of some {}", channels[i].signal(), there, due));
  }
}

// SIGTERM <= 2 s, host death <= 5 s.
void endings(const Options& o, Findings& f) {
  auto ends = [&](const char* how, std::chrono::milliseconds within, auto act, bool success) {
    Play play(o);
    if (!begins(o, f, play)) return;
    act(play);
    auto end = play.subject->ended(within);
    f.check(end.has_value(), fmt::format("ends within {} s {}", within.count() / 1000, how));
    f.check(!end || !success || *end == 0, fmt::format("exit status 0 {}", how),
            end ? std::to_string(*end) : "");
    if (end) f.check(play.subject->kin().empty(), fmt::format("leaves no process behind {}", how));
  };
  ends("of SIGTERM", 2000ms, [](Play& p) { p.subject->signal(SIGTERM); }, true);
  ends(
      "of a stop frame", 2000ms,
      [](Play& p) {
        v1::FeedResponse stop;
        stop.mutable_stop()->set_reason("plugin-check asks");
        stop.mutable_stop()->set_grace_ms(2000);
        p.stage->send(stop);
      },
      true);
  ends("of its host's death", 5000ms, [](Play& p) { p.stage->vanish(); }, false);
}

// SIGSTOP/SIGCONT: goes on, and says nothing about the time it did not live through.
void stopped(const Options& o, Findings& f) {
  Play play(o);
  if (!begins(o, f, play)) return;
  Play::sleep(300ms);
  int64_t from_us = mono_now_us() + 200'000;
  play.subject->signal(SIGSTOP);
  Play::sleep(2000ms);
  int64_t to_us = mono_now_us() - 200'000;
  size_t mark = play.mark();
  play.subject->signal(SIGCONT);
  f.check(play.beats_within(3000ms), "goes on within 3 s");
  if (o.wire) f.check(play.reads(10s, mark), "reads again");
  Play::sleep(500ms);
  int invented = 0;
  for (const v1::PluginReading& r : play.readings()) {
    bool within = r.mono_us() > from_us && r.mono_us() < to_us;
    if (within && (r.has_value() || r.has_fix())) ++invented;
  }
  f.check(invented == 0, "no reading of the time it was stopped",
          fmt::format("{} of them", invented));
}

// device: silence, rubbish, damaged frames, unplugged.
void device(const Options& o, Findings& f) {
  if (!o.wire) {
    f.skipped = "no instrument; name one by --wire and --device";
    return;
  }
  Play play(o);
  if (!begins(o, f, play)) return;
  auto lives = [&](const char* when) {
    return f.check(play.subject->running(), std::string("lives through ") + when,
                   play.subject->err().substr(0, 300));
  };
  play.wire->set_mode(Mode::kSilent);
  Play::sleep(1500ms);
  if (!lives("silence")) return;
  play.wire->set_mode(Mode::kGarbage);
  Play::sleep(1500ms);
  if (!lives("rubbish")) return;
  play.wire->set_mode(Mode::kDamaged);
  auto until = std::chrono::steady_clock::now() + std::chrono::seconds(10 + o.frames / 100);
  uint64_t want = static_cast<uint64_t>(o.frames);
  while (play.wire->damaged() < want && std::chrono::steady_clock::now() < until) Play::sleep(50ms);
  if (!lives(fmt::format("{} damaged frames", play.wire->damaged()).c_str())) return;
  for (const v1::PluginReading& r : play.readings()) {
    if (r.has_value()) f.check(std::isfinite(r.value()), "says no NaN");
  }
  play.wire->set_mode(Mode::kPlay);
  f.check(play.reads(15s, play.mark()), "reads again when the instrument is well");
  size_t mark = play.mark();
  play.wire->unplug();
  bool marked = play.stage->wait(6000ms, [&](const std::vector<Said>& all) {
    for (size_t i = mark; i < all.size(); ++i) {
      for (const v1::PluginReading& r : all[i].frame.batch().readings()) {
        if (r.has_gap()) return true;
      }
    }
    return false;
  });
  f.check(marked, "marks a gap within 6 s of being unplugged");
  if (!lives("being unplugged")) return;
  play.wire->plug();
  f.check(play.reads(20s, play.mark()), "reads again when plugged in");
}

// fd, env, files, stdout noise.
void hygiene(const Options& o, Findings& f) {
  Play play(o);
  if (!begins(o, f, play)) return;
  Play::sleep(500ms);
  int64_t before = play.subject->open_files();
  for (int i = 0; i < 4; ++i) {
    int streams = play.stage->streams();
    play.stage->break_stream();
    bool back = play.stage->wait(6000ms, [&](const std::vector<Said>& all) {
      return !all.empty() && all.back().stream > streams;
    });
    if (!f.check(back, "comes back after a broken stream")) return;
    Play::sleep(300ms);
  }
  int64_t after = play.subject->open_files();
  f.check(after <= before + 2, "opens no more files with each reconnect",
          fmt::format("{} before, {} after 4", before, after));
  f.check(before < 64, "holds few files", std::to_string(before));
  f.check(play.subject->out().empty(), "writes nothing to stdout",
          play.subject->out().substr(0, 60));
  f.check(std::filesystem::is_empty(play.folder / "home"), "leaves no file where it runs");
  std::string err = play.subject->err();
  auto lines = std::count(err.begin(), err.end(), '\n');
  f.check(lines < 200, "says little on stderr", fmt::format("{} lines", lines));
}

// Soak at twice the instrument's pace.
void soak(const Options& o, Findings& f) {
  Play play(o);
  if (!begins(o, f, play)) return;
  if (play.wire) play.wire->set_speed(2);
  Play::sleep(1000ms);
  size_t from = play.mark();
  int64_t rss_kib = play.subject->rss_kib();
  int64_t files = play.subject->open_files();
  int64_t cpu_ms = play.subject->cpu_ms();
  std::map<std::string, int64_t> ready_ns = play.subject->ready_ns();
  int64_t from_us = mono_now_us();
  while (mono_now_us() - from_us < int64_t{o.soak_s} * 1'000'000) {
    Play::sleep(100ms);
    if (!f.check(play.subject->running(), "runs all the time", play.subject->err())) return;
  }
  double span_s = static_cast<double>(mono_now_us() - from_us) / 1e6;
  int64_t grown_kib = play.subject->rss_kib() - rss_kib;
  f.check(grown_kib < kSoakGrowthKib, "its memory does not grow",
          fmt::format("by {} KiB in {:.0f} s", grown_kib, span_s));
  f.check(play.subject->open_files() <= files + 4, "holds no more files than before");
  double share = static_cast<double>(play.subject->cpu_ms() - cpu_ms) / (span_s * 1000);
  f.check(share < 0.25, "uses less than a quarter of a core", fmt::format("{:.0f} %", share * 100));
  for (const auto& [thread, ns] : play.subject->ready_ns()) {
    double ready = static_cast<double>(ns - ready_ns[thread]) / (span_s * 1e9);
    f.check(ready < 0.8, "no thread wants to run all the time",
            fmt::format("{:.0f} %", ready * 100));
  }
  std::map<uint32_t, Count> counts = count(play.readings(from));
  std::vector<v1::PluginChannel> channels = play.channels();
  double all = 0;
  for (uint32_t i = 0; i < channels.size(); ++i) {
    double rate = static_cast<double>(counts[i].got) / span_s;
    all += rate;
    if (channels[i].rate_hz() <= 0) continue;
    f.check(rate < 3 * channels[i].rate_hz() + 5, "keeps to the rate it declared",
            fmt::format("{}: {:.0f} a second, declared {}", channels[i].signal(), rate,
                        channels[i].rate_hz()));
  }
  f.check(all < 1000.0 * static_cast<double>(std::max<size_t>(1, channels.size())),
          "no more than 1,000 readings a second and channel", fmt::format("{:.0f}", all));
  f.check(play.beats_within(2000ms), "its loop still turns");
}

}  // namespace fairlead::conformance
