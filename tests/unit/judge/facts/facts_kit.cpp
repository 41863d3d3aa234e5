#include "tests/unit/judge/facts/facts_kit.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>

#include "daemon/base/time_text.h"
#include "daemon/record/observation_json.h"

namespace fairlead::judge {
namespace {

Rulebook rules_of(const std::string& phases, const std::string& files) {
  const std::string text = "id: \"p\" version: \"1\" title: \"p\"\n" + phases +
                           "rule { id: \"r\" title: \"r\" origin { text: \"common practice, no "
                           "source\" standing: PRACTICE } "
                           "count_limit { phase: \"job\" event: \"note\" at_least: 1 } }\n";
  std::vector<SourceFile> registers;
  if (!files.empty()) registers.push_back({"r.textproto", files});
  auto loaded = Rulebook::load({{"p.textproto", text}}, registers);
  EXPECT_TRUE(loaded) << (loaded ? "" : loaded.error().message);
  return *loaded;
}

std::string joined(const std::vector<std::string>& parts) {
  std::string text;
  for (const std::string& part : parts) text += (text.empty() ? "" : " ") + part;
  return text;
}

int64_t after(int64_t us, int64_t zero_us) {
  return us == kBeginning || us >= kForever ? us : us - zero_us;
}

const char* letter(Tri value) {
  return value == Tri::kTrue ? "T" : value == Tri::kFalse ? "F" : "U";
}

std::string because(Reason reason) {
  return reason == Reason::kNone ? "" : fmt::format("({})", word(reason));
}

}  // namespace

v1::Observation said(int64_t us, const std::string& source, uint32_t seq, const std::string& kind,
                     const std::string& more) {
  const std::string text =
      fmt::format(R"({{"time":"{}","job":"j","source":"{}","seq":{},{}{}{}}})",
                  format_time_us(kTen + us), source, seq, more, more.empty() ? "" : ",", kind);
  auto line = record::observation_from_line(text);
  EXPECT_TRUE(line) << text << "\n" << (line ? "" : line.error().message);
  return line ? std::move(*line) : v1::Observation();
}

v1::Observation opened(int64_t us, const std::string& more, uint32_t seq) {
  return said(
      us, "operator", seq,
      R"("opened":{"procedures":["p"],"vehicle":"car","truck":"truck-1","operator":"card-1")" +
          more + "}");
}

v1::Observation closed(int64_t us, uint32_t seq) {
  return said(us, "operator", seq, R"("closed":{"outcome":"SIGNED"})");
}

v1::Observation sampled(int64_t us, const std::string& source, uint32_t seq,
                        const std::string& signal, double value) {
  return said(us, source, seq,
              fmt::format(R"("sample":{{"signal":"{}","value":{}}})", signal, value));
}

int64_t s(double second) { return std::llround(second * 1e6); }

// A line of a source, the number given; "+" more members.
v1::Observation line(double second, const std::string& source, uint32_t seq,
                     const std::string& kind, const std::string& more) {
  return said(s(second), source, seq, kind, more);
}
v1::Observation op(double second, uint32_t seq, const std::string& kind) {
  return line(second, "operator", seq, kind);
}
std::string scene(bool set) { return fmt::format(R"("scene":{{"set":{}}})", set); }
std::string moving(bool is) { return fmt::format(R"("truckMotion":{{"moving":{}}})", is); }
std::string clamp(const std::string& lead, bool on, const std::string& point) {
  return fmt::format(R"("clamp":{{"lead":"{}","on":{},"at":"VEHICLE","point":"{}"}})", lead, on,
                     point);
}
std::string rigging(bool on, const std::string& point) {
  return fmt::format(R"("rigging":{{"on":{},"point":"{}","gear":[]}})", on, point);
}
std::string tiedown(bool on, const std::string& place, const std::string& gear) {
  return fmt::format(R"("tiedown":{{"on":{},"gear":"{}",{},"path":"DIRECT"}})", on, gear, place);
}
std::string wheels(const std::string& which, const std::string& on) {
  return fmt::format(R"("wheels":{{"which":"{}","on":"{}"}})", which, on);
}
std::string mode(const std::string& word) {
  return fmt::format(R"("vehicleMode":{{"mode":"{}"}})", word);
}
std::string gap(const std::string& channel) {
  return fmt::format(R"("gap":{{"channel":"{}","cause":"-"}})", channel);
}

void add_samples(Lines& lines, const std::string& source, const std::string& signal, double from,
                 const std::vector<std::pair<double, int>>& values) {
  uint32_t seq = 1;
  double now = from;
  for (const v1::Observation& one : lines) seq += one.source() == source ? 1 : 0;
  for (const auto& [value, times] : values) {
    for (int i = 0; i < times; ++i, now += 1)
      lines.push_back(sampled(s(now), source, seq++, signal, value));
  }
}

Job::Job(Lines all, const std::string& phases, const std::string& files, const std::string& job)
    : rules(rules_of(phases, files)), lines(std::move(all)) {
  state = std::make_unique<JobState>(rules.content(), std::span<const v1::Observation>(lines), job);
  state->facts.use(rules.content().procedures.front());
}

std::string Job::fact(const std::string& name) { return told(state->facts.fact(name)); }

std::string Job::stays(const std::string& id) {
  std::vector<std::string> parts;
  for (const PhaseSpan& span : state->facts.phase(id))
    parts.push_back(
        fmt::format("{}-{}{}", told(span.open), told(span.close), span.closed ? "" : "..."));
  return joined(parts);
}

std::string Job::events(const std::string& name) {
  std::vector<std::string> parts;
  for (const Stamp& stamp : state->facts.events(name)) parts.push_back(told(stamp));
  return joined(parts);
}

std::string seconds(int64_t us) {
  if (us == kBeginning) return "-inf";
  if (us >= kForever) return "inf";  // Also so long from now.
  std::string text = fmt::format("{}{}.{:06}", us < 0 ? "-" : "", std::abs(us) / kSecondUs,
                                 std::abs(us) % kSecondUs);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.ends_with('.')) text.pop_back();
  return text;
}

std::string told(const Stamp& stamp, int64_t zero_us) {
  std::string text = seconds(after(stamp.time_us, zero_us));
  if (stamp.early_us != 0) text += "-" + seconds(stamp.early_us);
  if (stamp.late_us != 0) text += "+" + seconds(stamp.late_us);
  if (stamp.frame != 0 || stamp.clock_u_us != 0)
    text +=
        fmt::format("@{}({})", stamp.frame, stamp.clock_u_us < 0 ? "?" : seconds(stamp.clock_u_us));
  if (stamp.line != kNoLine) text += fmt::format("#{}", stamp.line);
  return text + (stamp.basis == Basis::kMeasured   ? "m"
                 : stamp.basis == Basis::kPictured ? "p"
                                                   : "");
}

std::string told(const Timeline& timeline, int64_t zero_us) {
  std::string text = letter(timeline.initial());
  for (const Change& change : timeline.changes()) {
    text += fmt::format(" {}{}{}{}", told(change.at, zero_us), letter(change.value),
                        because(change.why_unknown), change.doubtful ? "!" : "");
  }
  return text;
}

std::string told(const Series& series, int64_t zero_us) {
  std::vector<std::string> parts;
  for (const Piece& piece : series.pieces) {
    std::string text = fmt::format("{}-{} {}", seconds(after(piece.from_us, zero_us)),
                                   seconds(after(piece.to_us, zero_us)), piece.value);
    if (piece.lo != piece.value || piece.hi != piece.value)
      text += fmt::format(" {}..{}", piece.lo, piece.hi);
    if (piece.sd_milli != 0) text += fmt::format(" sd {}", piece.sd_milli);
    if (piece.line != kNoLine) text += fmt::format("#{}", piece.line);
    parts.push_back(text + ";");
  }
  return joined(parts);
}

std::string told(const std::vector<Hole>& holes, int64_t zero_us) {
  std::vector<std::string> parts;
  for (const Hole& hole : holes)
    parts.push_back(fmt::format("{}-{} {};", seconds(after(hole.from_us, zero_us)),
                                seconds(after(hole.to_us, zero_us)), word(hole.reason)));
  return joined(parts);
}

std::string told(const std::vector<HiddenSpan>& spans, int64_t zero_us) {
  std::vector<Hole> holes;
  for (const HiddenSpan& span : spans) holes.push_back({span.from_us, span.to_us, span.reason});
  return told(holes, zero_us);
}

std::string told(const Interval& interval) {
  std::vector<std::string> parts;
  for (const auto& end : {interval.lo, interval.best, interval.hi})
    parts.push_back(end ? fmt::format("{}", *end) : "-");
  return joined(parts);
}

std::string told(const SourceGap& gap) {
  return fmt::format("{}{} {}-{} {}{}{};", gap.source, gap.channel.empty() ? "" : "/" + gap.channel,
                     seconds(after(gap.from_us, kTen)), seconds(after(gap.to_us, kTen)),
                     word(gap.reason), gap.lost ? fmt::format(" {} lost", *gap.lost) : "",
                     gap.stated ? " stated" : "");
}

std::string told(const std::vector<SourceGap>& gaps) {
  std::vector<std::string> parts;
  for (const SourceGap& gap : gaps) parts.push_back(told(gap));
  return joined(parts);
}

std::string told(const JobLines& lines) {
  std::vector<std::string> parts;
  for (const JobLine& line : lines.lines())
    parts.push_back(fmt::format("{}:{}@{}", lines.source_of(line), line.read->seq,
                                seconds(line.stamp.time_us - kTen)));
  return joined(parts);
}

}  // namespace fairlead::judge
