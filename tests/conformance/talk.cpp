// Groups 01, 02, 03 and 08: the conversation.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "daemon/record/observation_ranges.h"
#include "tests/conformance/play.h"

namespace fairlead::conformance {

namespace {
using namespace std::chrono_literals;

// Ends within 5 s and with a status that is not success, and describes nothing.
void must_leave(Findings& f, Play& play, const std::string& when) {
  auto end = play.subject->ended(5000ms);
  f.check(end && *end != 0, "ends within 5 s " + when,
          end ? "but with exit status 0" : "it goes on");
  f.check(play.channels().empty() || !end, "describes nothing " + when);
}

void refused_by(const Options& o, Findings& f, const std::string& when,
                const std::function<void(v1::FeedResponse&)>& change) {
  Play play(o, "", false);
  v1::FeedResponse answer = play.stage->welcome();
  change(answer);
  play.stage->set_answer([answer](const v1::PluginHello&) { return answer; });
  play.start();
  must_leave(f, play, when);
}

void check_channel(Findings& f, const v1::PluginChannel& c) {
  std::string name = c.source() + " " + c.signal();
  bool fix = c.signal() == "fix";
  auto range = record::range_of_signal(c.signal());
  f.check(fix || range, name + ": the signal is known");
  std::string_view unit = fix ? "fix" : !range ? c.unit() : range->whole ? "1" : range->unit;
  bool unit_good = c.unit() == unit || (range && range->whole && c.unit() == range->unit);
  f.check(unit_good, name + ": the unit is the one it is recorded in",
          fmt::format("\"{}\", not \"{}\"", c.unit(), unit));
  bool finite = std::isfinite(c.range_lo()) && std::isfinite(c.range_hi());
  f.check(finite && c.range_lo() <= c.range_hi(), name + ": the range is one",
          fmt::format("{} to {}", c.range_lo(), c.range_hi()));
  f.check(std::isfinite(c.resolution()) && c.resolution() >= 0, name + ": the resolution is one");
  f.check(std::isfinite(c.rate_hz()) && c.rate_hz() >= 0, name + ": the rate is one");
  f.check(c.clock_source() != v1::PluginChannel::UNSET, name + ": says which clock it stamps by");
}

// Each output answers a command, and so does one that was never described.
void check_outputs(Findings& f, Play& play) {
  v1::PluginDescribed described;
  bool capable = false;
  for (const Said& s : play.stage->said()) {
    if (s.frame.has_described()) described = s.frame.described();
    for (const std::string& word : s.frame.hello().capabilities()) capable |= word == "outputs";
  }
  if (!f.check(described.outputs().empty() || capable, "says it has outputs in its hello")) return;
  if (!capable) return;
  std::vector<std::string> names{"plugin_check_no_such_output"};
  for (const v1::PluginOutput& output : described.outputs()) names.push_back(output.output());
  for (size_t i = 0; i < names.size(); ++i) {
    v1::FeedResponse frame;
    frame.mutable_command()->set_command_seq(i + 1);
    frame.mutable_command()->set_output(names[i]);
    frame.mutable_command()->set_on(true);
    frame.mutable_command()->set_for_ms(200);
    play.stage->send(frame);
    v1::PluginCommandDone done;
    size_t next = 0;
    bool answered = play.stage->wait(3000ms, [&](const std::vector<Said>& all) {
      for (; next < all.size(); ++next) {
        if (!all[next].frame.has_command_done()) continue;
        done = all[next].frame.command_done();
        if (done.command_seq() == i + 1) return true;
      }
      return false;
    });
    f.check(answered, "answers a command within 3 s", names[i]);
    f.check(i > 0 || !answered || !done.trouble().empty(),
            "says that it has no output of a name it has not");
  }
}
}  // namespace

void handshake(const Options& o, Findings& f) {
  {
    Play play(o);
    bool came = play.stage->wait(5000ms, [](const auto& all) { return !all.empty(); });
    if (!f.check(came, "says hello within 5 s")) return;
    v1::FeedRequest first = play.stage->said().front().frame;
    if (!f.check(first.has_hello(), "the first frame is hello")) return;
    const v1::PluginHello& hello = first.hello();
    const auto& majors = hello.plugin_api();
    f.check(hello.wire_core() == 1, "wire_core is 1");
    f.check(std::find(majors.begin(), majors.end(), 1U) != majors.end(), "speaks plugin_api 1");
    f.check(hello.session_id() == play.session, "gives the session it was started with");
    f.check(!hello.plugin().empty(), "says its name");
    f.check(play.described(), "describes itself after a welcome");
  }
  refused_by(o, f, "when it is refused", [](v1::FeedResponse& answer) {
    answer.mutable_refused()->set_reason("plugin-check refuses it");
  });
  refused_by(o, f, "when the host has another wire_core",
             [](v1::FeedResponse& answer) { answer.mutable_welcome()->set_wire_core(2); });
  refused_by(o, f, "when the host has only the next major",
             [](v1::FeedResponse& answer) { answer.mutable_welcome()->set_plugin_api(2); });
  refused_by(o, f, "when the host has only the last major",
             [](v1::FeedResponse& answer) { answer.mutable_welcome()->set_plugin_api(0); });
  refused_by(o, f, "when another session is welcomed",
             [](v1::FeedResponse& answer) { answer.mutable_welcome()->set_session_id("other"); });
  Subject bare({.program = o.program, .arguments = {}, .folder = "/tmp"});
  auto end = bare.ended(5000ms);
  f.check(end && *end != 0, "without a command line it ends and does not wait");
}

void description(const Options& o, Findings& f) {
  Play play(o);
  if (!f.check(play.described(), "describes itself within 5 s", play.subject->err())) return;
  std::vector<v1::PluginChannel> channels = play.channels();
  f.check(channels.size() <= 64, "at most 64 channels");
  std::set<std::string> seen;
  for (const v1::PluginChannel& c : channels) {
    check_channel(f, c);
    f.check(seen.insert(c.source() + " " + c.signal()).second, "no channel twice");
  }
  check_outputs(f, play);
  play.stage->break_stream();
  bool again = play.stage->wait(5000ms, [](const std::vector<Said>& all) {
    return !all.empty() && all.back().stream == 2 && !all.back().frame.has_hello();
  });
  if (!f.check(again, "comes back after a broken stream")) return;
  std::string first;
  std::set<int> streams;
  for (const Said& s : play.stage->said()) {
    if (!s.frame.has_described() || !streams.insert(s.stream).second) continue;
    std::string text = s.frame.described().SerializeAsString();
    f.check(first.empty() || first == text, "describes the same again");
    first = text;
  }
}

void bad_settings(const Options& o, Findings& f) {
  Play play(o, "plugin_check_no_such_key = 1\n");
  auto answered = [](const std::vector<Said>& all) {
    for (const Said& s : all) {
      if (s.frame.has_config_refused() || s.frame.has_described()) return true;
    }
    return false;
  };
  play.stage->wait(5000ms, answered);
  v1::PluginConfigRefused refused;
  for (const Said& s : play.stage->said()) {
    if (s.frame.has_config_refused()) refused = s.frame.config_refused();
  }
  if (!f.check(refused.problems_size() > 0, "refuses a key it does not know")) return;
  bool named = false;
  for (const v1::PluginConfigProblem& p : refused.problems()) {
    named = named || p.field().find("plugin_check_no_such_key") != std::string::npos;
    f.check(!p.problem().empty() && !p.remedy().empty(), "says what is wrong and what to do");
  }
  f.check(named, "names the field", refused.ShortDebugString());
  auto end = play.subject->ended(5000ms);
  f.check(end && *end != 0, "ends after that");
  Play broken(o, "= this is no TOML\n");
  broken.stage->wait(5000ms, answered);
  f.check(broken.channels().empty(), "refuses settings that are no TOML");
}

void replay(const Options& o, Findings& f) {
  Play play(o);
  if (!f.check(play.reads(10s), "delivers a reading within 10 s", play.subject->err())) return;
  for (int round = 0; round < 3; ++round) {
    play.stage->set_acking(false);
    uint64_t acked = play.stage->acked();
    auto is_unacked = [&](const Said& s) {
      return s.frame.has_batch() && s.frame.batch().batch_seq() > acked;
    };
    bool more = play.stage->wait(10s, [&](const std::vector<Said>& all) {
      return std::any_of(all.begin(), all.end(), is_unacked);
    });
    if (!f.check(more, "delivers more while nothing is acknowledged")) return;
    Play::sleep(600ms);
    std::map<uint64_t, std::string> unacked;
    for (const Said& s : play.stage->said()) {
      if (is_unacked(s)) unacked[s.frame.batch().batch_seq()] = s.frame.batch().SerializeAsString();
    }
    int before = play.stage->streams();
    size_t from = play.mark();
    play.stage->set_acking(true);
    play.stage->break_stream();
    uint64_t want = unacked.rbegin()->first;
    bool back = play.stage->wait(6000ms, [&](const std::vector<Said>& all) {
      for (size_t i = from; i < all.size(); ++i) {
        if (all[i].stream > before && all[i].frame.has_batch() &&
            all[i].frame.batch().batch_seq() >= want) {
          return true;
        }
      }
      return false;
    });
    f.check(back, "sends again what was not acknowledged", fmt::format("up to batch {}", want));
    uint64_t next = acked + 1;
    for (const Said& s : play.stage->said()) {
      if (s.stream <= before || !s.frame.has_batch()) continue;
      const v1::PluginBatch& batch = s.frame.batch();
      if (!f.check(batch.batch_seq() == next, "begins after the last acknowledged, without a hole",
                   fmt::format("batch {} instead of {}", batch.batch_seq(), next))) {
        return;
      }
      auto was = unacked.find(next++);
      if (was == unacked.end()) continue;
      f.check(batch.SerializeAsString() == was->second, "what is sent again is the same");
    }
  }
}

}  // namespace fairlead::conformance
