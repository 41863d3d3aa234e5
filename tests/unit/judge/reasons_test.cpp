// Every rule form against every reason for unproven: one job that gives just that reason, with the
// record that would decide it, or why the form cannot have it. A pair that is neither fails.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <functional>
#include <map>
#include <set>

#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

using Kind = std::string;

v1::Observation op(double second, uint32_t seq, const Kind& kind) {
  return line_at(second, "operator", seq, kind);
}
v1::Observation desk(double second, uint32_t seq, const Kind& kind) {
  return line_at(second, "desk", seq, kind);
}
const Kind kNote = R"("note":{"text":"nothing"})";
const Kind kChecked = R"("secured":{"checked":true})";
const Kind kArrived = R"("arrived":{})";
const Kind kAwake = R"("screen":{"awake":true})";
const Kind kSigned = R"("closed":{"outcome":"SIGNED"})";
Kind scene(bool set) { return fmt::format(R"("scene":{{"set":{}}})", set); }
Kind mode(const char* word) { return fmt::format(R"("vehicleMode":{{"mode":"{}"}})", word); }
Kind photo(const char* view) {
  return fmt::format(
      R"("photo":{{"view":"{}","when":"BEFORE","sha256":"{}","mediaType":"image/jpeg"}})", view,
      std::string(64, 'a'));
}
Kind tied(bool on) {
  return fmt::format(R"("tiedown":{{"on":{},"gear":"unread","wheel":"LF","path":"ACROSS"}})", on);
}
Kind clamp(const char* lead, bool on) {
  return fmt::format(R"("clamp":{{"lead":"{}","on":{},"at":"VEHICLE","point":"TERMINALS"}})", lead,
                     on);
}
Kind moving(bool on) { return fmt::format(R"("truckMotion":{{"moving":{}}})", on); }

// By a clock that is off by up to 5 s; without `known` nobody says by how much.
v1::Observation apart(v1::Observation line, bool known = true) {
  line.set_clock("of its own");
  if (known) line.set_time_uncertainty_ms(5000);
  return line;
}

Lines join(Lines lines, const Lines& more) {
  lines.insert(lines.end(), more.begin(), more.end());
  return lines;
}

// Two lines of one number and other content: nothing that source says from there on is believed.
Lines conflict(double second, const std::string& source, uint32_t seq) {
  return {line_at(second, source, seq, R"("note":{"text":"one thing"})"),
          line_at(second, source, seq, R"("note":{"text":"another"})")};
}

Lines samples(const std::string& source, const std::string& signal, int from, int to,
              const std::function<double(int)>& value, uint32_t seq = 0) {
  Lines lines;
  for (int second = from; second < to; ++second)
    lines.push_back(
        line_at(second, source, ++seq,
                fmt::format(R"("sample":{{"signal":"{}","value":{}}})", signal, value(second))));
  return lines;
}

Lines fixes(const std::string& source, int from, int to, double mps, double sd = 0.1) {
  Lines lines;
  for (int second = from; second < to; ++second) {
    lines.push_back(speed_line(second, static_cast<uint32_t>(second), mps, sd));
    lines.back().set_source(source);
  }
  return lines;
}

Lines jaw(int from, int to) {
  return samples("clamp", "clamp.neg.contact", from, to, [](int) { return 1.0; });
}

// Free-rolling from 10 to 30 s, closed at 60 s.
Lines rolling(bool closed = true) {
  Lines lines{opened_line(), op(10, 2, mode("ROLLING"))};
  if (closed) lines = join(lines, {op(30, 3, mode("PARKED")), op(60, 4, kSigned)});
  return lines;
}

Lines rope(int from, int to, double metres, const std::string& source = "line") {
  return samples(source, "line.out", from, to, [&](int second) {
    return 20.0 - metres * std::min(std::max(0.0, (second - 12) / 15.0), 1.0);
  });
}

Lines without(Lines lines, int from, int to, const std::string& source) {
  std::erase_if(lines, [&](const v1::Observation& line) {
    const int second =
        std::stoi(line.time().substr(14, 2)) * 60 + std::stoi(line.time().substr(17, 2));
    return line.source() == source && second >= from && second < to;
  });
  return lines;
}

Lines on_own_clock(Lines lines, const std::string& source) {
  for (v1::Observation& line : lines) {
    if (line.source() == source) line.set_clock("of its own");
  }
  return lines;
}

const std::string kPhases =
    "phase { id: \"set\" opens: \"scene.set.on\" closes: \"scene.set.off\" longest: \"1 h\" }\n";
const std::map<std::string, std::string> kForms{
    {"comes_first", "comes_first { first: \"arrived\" then: \"secured.checked\" }"},
    {"comes_first by a jaw",
     "comes_first { first: \"clamp.negative.off\" then: \"clamp.positive.off\" }"},
    {"follows_within",
     "follows_within { after: \"arrived\" then: \"secured.checked\" within: \"60 s\" }"},
    {"stays_until", "stays_until { state: \"scene.set\" until: \"screen.awake.on\" }"},
    {"wait_between",
     "wait_between { from: \"arrived\" to: \"secured.checked\" at_least: \"30 s\" }"},
    {"wait_between from a jaw",
     "wait_between { from: \"clamp.negative.off\" to: \"secured.checked\" at_least: \"30 s\" }"},
    {"limit_in_phase",
     "limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" under: \"5 km/h\" "
     "sustained: \"1 s\" longest_gap: \"3 s\" }"},
    {"total_in_phase",
     "total_in_phase { phase: \"rolling\" quantity: \"vehicle.rolled\" under: \"10 m\" per: JOB "
     "longest_gap: \"3 s\" }"},
    {"never_together",
     "never_together { state: \"scene.set\" with: \"screen.awake\" tolerate: \"10 s\" }"},
    {"never_together at the jaws",
     "never_together { state: \"scene.set\" with: \"clamp.negative\" tolerate: \"10 s\" }"},
    {"enough_strength",
     "enough_strength { phase: \"driving\" of: \"tiedowns\" times_mass: \"0.5\" }"},
    {"recheck_every",
     "recheck_every { phase: \"set\" check: \"secured.checked\" time: \"60 s\" parked_counts: true "
     "}"},
    {"recheck_every from the opening",
     "recheck_every { phase: \"job\" check: \"secured.checked\" time: \"60 s\" parked_counts: true "
     "}"},
    {"recheck_every km",
     "recheck_every { phase: \"set\" check: \"secured.checked\" distance: \"100 m\" }"},
    {"evidence_present",
     "evidence_present { item: \"photo.before:front\" at_least: 1 before: \"scene.set.on\" }"},
    {"evidence_present near",
     "evidence_present { item: \"photo.before:front\" at_least: 1 before: \"scene.set.on\" radius: "
     "\"10 m\" }"},
    {"evidence_present after",
     "evidence_present { item: \"photo.before:front\" at_least: 1 after: \"scene.set.on\" }"},
    {"count_limit", "count_limit { phase: \"set\" event: \"secured.checked\" at_least: 1 }"},
    {"sources_agree",
     "sources_agree { phase: \"job\" claim: \"clamp.negative.off\" with: \"clamp.volts\" within: "
     "\"3 s\" }"},
    {"sources_agree receivers",
     "sources_agree { phase: \"rolling\" quantity: \"vehicle.speed\" with: \"truck.speed\" within: "
     "\"2.1 m/s\" }"},
    {"all_of",
     "all_of { rule { id: \"a\" limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" "
     "under: \"5 km/h\" sustained: \"1 s\" longest_gap: \"3 s\" } } }"},
    {"any_of",
     "any_of { rule { id: \"a\" limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" "
     "under: \"5 km/h\" sustained: \"1 s\" longest_gap: \"3 s\" } } }"},
};

struct Row {
  const char* form;
  Reason reason;
  Lines lines;
  const char* decides;  // Part of what the finding says would decide it.
};

constexpr const char* kLost = "missing line(s) of 'operator'";
constexpr const char* kClocks = "a stated offset between the two clocks";
constexpr const char* kBelieved = "what is unknown of 'operator'";
constexpr const char* kOver = "the job is not over";

std::vector<Row> rows_of_order() {
  // The line between 5 and 20 s is lost.
  const Lines lost{opened_line(), op(5, 2, kNote), op(20, 4, kNote)};
  const Lines odd = join({opened_line()}, conflict(20, "operator", 2));
  const Lines jaw_ended = join(join({opened_line(), op(5, 2, clamp("POSITIVE", true))}, jaw(1, 20)),
                               {op(50, 3, clamp("POSITIVE", false)), op(60, 4, kChecked)});
  return {
      {"comes_first", Reason::kNoData, join(lost, {op(50, 5, kChecked), op(90, 6, kSigned)}),
       kLost},
      {"comes_first",
       Reason::kClockDoubt,
       {opened_line(), op(10, 2, kArrived), apart(line_at(12, "probe", 1, kChecked)),
        op(90, 3, kSigned)},
       kClocks},
      {"comes_first", Reason::kSourcesDisagree,
       join(odd, {desk(50, 1, kChecked), desk(90, 2, kSigned)}), kBelieved},
      {"comes_first", Reason::kNotYet, {opened_line(), op(50, 2, kChecked)}, kOver},
      {"comes_first by a jaw", Reason::kCutShort, join(jaw_ended, {op(90, 5, kSigned)}),
       "clamp.neg.contact"},
      {"follows_within",
       Reason::kNoData,
       {opened_line(), op(10, 2, kArrived), op(30, 3, kNote), op(100, 5, kNote),
        op(200, 6, kSigned)},
       kLost},
      {"follows_within",
       Reason::kClockDoubt,
       {opened_line(), op(10, 2, kArrived), apart(line_at(68, "probe", 1, kChecked)),
        op(200, 3, kSigned)},
       kClocks},
      {"follows_within", Reason::kSourcesDisagree,
       join(odd, {desk(10, 1, kArrived), desk(200, 2, kSigned)}), kBelieved},
      {"follows_within",
       Reason::kNotYet,
       {opened_line(), op(10, 2, kArrived), op(50, 3, kNote)},
       kOver},
      {"follows_within",
       Reason::kCutShort,
       {opened_line(), op(10, 2, kArrived), op(50, 3, kSigned)},
       "the job ended before"},
      {"wait_between", Reason::kNoData, join(lost, {op(50, 5, kChecked), op(90, 6, kSigned)}),
       kLost},
      {"wait_between",
       Reason::kClockDoubt,
       {opened_line(), op(10, 2, kArrived), apart(line_at(42, "probe", 1, kChecked)),
        op(200, 3, kSigned)},
       kClocks},
      {"wait_between", Reason::kSourcesDisagree,
       join(odd, {desk(50, 1, kChecked), desk(90, 2, kSigned)}), kBelieved},
      {"wait_between", Reason::kNotYet, {opened_line(), op(10, 2, kArrived)}, kOver},
      {"wait_between from a jaw", Reason::kCutShort, join(jaw_ended, {op(90, 5, kSigned)}),
       "clamp.neg.contact"},
  };
}

std::vector<Row> rows_of_stays() {
  const Lines odd = join({opened_line()}, conflict(20, "operator", 2));
  return {
      {"stays_until",
       Reason::kNoData,
       {opened_line(), op(10, 2, scene(true)), op(20, 3, kNote), op(40, 5, kNote),
        op(60, 6, kAwake), op(200, 7, kSigned)},
       kLost},
      {"stays_until",
       Reason::kClockDoubt,
       {opened_line(), op(10, 2, scene(true)), apart(line_at(58, "probe", 1, kAwake)),
        op(60, 3, scene(false)), op(200, 4, kSigned)},
       kClocks},
      {"stays_until", Reason::kSourcesDisagree,
       join(odd, {desk(10, 1, scene(true)), desk(60, 2, kAwake), desk(200, 3, kSigned)}),
       kBelieved},
      {"stays_until",
       Reason::kNotYet,
       {opened_line(), op(10, 2, scene(true)), op(50, 3, kNote)},
       kOver},
      {"stays_until",
       Reason::kCutShort,
       {opened_line(), op(10, 2, scene(true)), op(200, 3, kSigned)},
       "the job ended before"},
  };
}

std::vector<Row> rows_of_measures() {
  std::vector<Row> rows;
  const Lines hole = without(fixes("gps.tag", 1, 40, 1.0), 16, 24, "gps.tag");
  for (const char* form : {"limit_in_phase", "all_of", "any_of"}) {
    rows.push_back({form, Reason::kNoData, join(rolling(), hole),
                    "readings of vehicle.speed from 10:00:18 to 10:00:24"});
    rows.push_back({form, Reason::kTooClose, join(rolling(), fixes("gps.tag", 1, 40, 1.3)),
                    "vehicle.speed with a smaller uncertainty"});
    rows.push_back({form, Reason::kClockDoubt,
                    on_own_clock(join(rolling(), fixes("gps.tag", 1, 40, 1.0)), "gps.tag"),
                    kClocks});
    rows.push_back(
        {form, Reason::kSourcesDisagree,
         join(join(rolling(), fixes("gps.tag", 1, 20, 1.0)), conflict(20, "gps.tag", 20)),
         "what is unknown of 'gps.tag'"});
    rows.push_back(
        {form, Reason::kNotYet, join(rolling(false), fixes("gps.tag", 1, 20, 1.0)), kOver});
    rows.push_back({form, Reason::kCutShort, join(rolling(), fixes("gps.tag", 1, 20, 1.0)),
                    "readings of vehicle.speed from 10:00:22 to 10:00:30"});
  }
  const char* total = "total_in_phase";
  rows.push_back({total, Reason::kNoData, join(rolling(), without(rope(1, 40, 7), 16, 24, "line")),
                  "missing line(s) of 'line'"});
  rows.push_back({total, Reason::kTooClose, join(rolling(), rope(1, 40, 10)),
                  "vehicle.rolled with a smaller uncertainty"});
  rows.push_back(
      {total, Reason::kClockDoubt, on_own_clock(join(rolling(), rope(1, 40, 7)), "line"), kClocks});
  // The receiver says it stood all the time, the rope counter says 7 m.
  rows.push_back(
      {total, Reason::kSourcesDisagree,
       join(join(join(rolling(), rope(1, 40, 7)), fixes("gps.tag", 1, 40, 0.0)),
            samples(
                "line", "line.pull", 1, 40,
                [](int second) { return second >= 11 && second < 29 ? 2500.0 : 60.0; }, 100)),
       "the sources that contradict each other"});
  rows.push_back({total, Reason::kNotYet, join(rolling(false), rope(1, 20, 7)), kOver});
  rows.push_back({total, Reason::kCutShort, join(rolling(), rope(1, 20, 7)),
                  "readings of line.out from 10:00:22 to 10:00:30"});
  const Lines volts =
      samples("clamp", "clamp.volts", 1, 40, [](int second) { return second < 22 ? 12.6 : 9.8; });
  const Lines claim{opened_line(), op(5, 2, clamp("NEGATIVE", true)),
                    op(20.2, 3, clamp("NEGATIVE", false))};
  const Lines claimed = join(claim, {op(40, 4, kSigned)});
  Lines both = join(rolling(), fixes("gps.tag", 1, 40, 2.0));
  rows.push_back({"sources_agree", Reason::kNoData, claimed, "readings of clamp.volts"});
  rows.push_back({"sources_agree receivers", Reason::kTooClose,
                  join(both, fixes("gps.truck", 1, 40, 0.0, 0.05)), "a smaller uncertainty"});
  rows.push_back(
      {"sources_agree", Reason::kClockDoubt, on_own_clock(join(claimed, volts), "clamp"), kClocks});
  rows.push_back(
      {"sources_agree receivers", Reason::kSourcesDisagree,
       join(join(rolling(), fixes("gps.tag", 1, 40, 5.0)), fixes("gps.truck", 1, 40, 0.0, 0.05)),
       "the sources that contradict each other"});
  rows.push_back({"sources_agree", Reason::kNotYet,
                  join(claim, samples("clamp", "clamp.volts", 1, 22, [](int) { return 12.6; })),
                  kOver});
  rows.push_back({"sources_agree", Reason::kCutShort,
                  join(claimed, samples("clamp", "clamp.volts", 1, 16, [](int) { return 12.6; })),
                  "readings of clamp.volts"});
  return rows;
}

std::vector<Row> rows_of_states() {
  const Lines set_and_awake{opened_line(), op(10, 2, scene(true)), op(30, 3, kAwake)};
  const Lines odd = join({opened_line()}, conflict(50, "operator", 2));
  return {
      {"never_together", Reason::kNoData,
       join(set_and_awake, {op(36, 4, kNote), op(90, 6, scene(false)), op(200, 7, kSigned)}),
       kLost},
      {"never_together",
       Reason::kClockDoubt,
       {opened_line(), op(10, 2, scene(true)), apart(line_at(30, "probe", 1, kAwake)),
        op(36, 3, scene(false)), op(200, 4, kSigned)},
       kClocks},
      {"never_together", Reason::kSourcesDisagree,
       join(odd, {desk(10, 1, scene(true)), desk(45, 2, kAwake), desk(200, 3, kSigned)}),
       kBelieved},
      {"never_together", Reason::kNotYet, join(set_and_awake, {op(35, 4, kNote)}), kOver},
      {"never_together at the jaws", Reason::kCutShort,
       join({opened_line(), op(10, 2, scene(true)), op(60, 3, kSigned)},
            samples("clamp", "clamp.neg.contact", 1, 20, [](int) { return 0.0; })),
       "clamp.neg.contact"},
      {"recheck_every",
       Reason::kNoData,
       {opened_line(), op(10, 2, scene(true)), op(20, 3, kNote), op(100, 5, scene(false)),
        op(200, 6, kSigned)},
       kLost},
      // 100 m allowed, 99.5 m driven, s.d. 0.1 m/s.
      {"recheck_every km", Reason::kTooClose,
       join({opened_line(), op(10, 2, scene(true)), op(29.9, 3, scene(false)), op(60, 4, kSigned)},
            fixes("gps.truck", 1, 60, 5.0)),
       "truck.driven with a smaller uncertainty"},
      {"recheck_every",
       Reason::kClockDoubt,
       {opened_line(), op(10, 2, scene(true)), apart(line_at(68, "probe", 1, kChecked)),
        op(90, 3, scene(false)), op(200, 4, kSigned)},
       kClocks},
      {"recheck_every from the opening", Reason::kSourcesDisagree,
       join(odd, {desk(200, 1, kSigned)}), kBelieved},
      {"recheck_every",
       Reason::kNotYet,
       {opened_line(), op(10, 2, scene(true)), op(40, 3, kNote)},
       kOver},
      {"recheck_every km", Reason::kCutShort,
       join({opened_line(), op(10, 2, scene(true)), op(40, 3, scene(false)), op(60, 4, kSigned)},
            fixes("gps.truck", 1, 20, 2.0)),
       "readings of truck.speed"},
  };
}

std::vector<Row> rows_of_counts() {
  const Lines odd = join({opened_line()}, conflict(5, "operator", 2));
  Lines near =
      join({opened_line(), op(20, 2, photo("front")), op(40, 3, scene(true)), op(90, 4, kSigned)},
           fixes("gps.truck", 1, 60, 0.0));
  for (v1::Observation& line : near) {  // 9 m further north when the scene is set.
    if (line.has_fix() && line.time() > "2026-03-02T10:00:30Z")
      line.mutable_fix()->set_lat_deg(44.5 + 9.0 / 111'194.9);
  }
  // A gap that the operator's own device states, and nothing of it later.
  const Kind gap = R"("gap":{"channel":"operator","cause":"battery"})";
  return {
      {"evidence_present",
       Reason::kNoData,
       {opened_line(), op(10, 2, kNote), op(20, 4, kNote), op(30, 5, scene(true)),
        op(90, 6, kSigned)},
       kLost},
      {"evidence_present near", Reason::kTooClose, near, "a place"},
      {"evidence_present",
       Reason::kClockDoubt,
       {opened_line(), apart(line_at(28, "camera", 1, photo("front")), false),
        op(30, 2, scene(true)), op(90, 3, kSigned)},
       kClocks},
      {"evidence_present", Reason::kSourcesDisagree,
       join(odd, {desk(30, 1, scene(true)), desk(90, 2, kSigned)}), kBelieved},
      {"evidence_present after",
       Reason::kNotYet,
       {opened_line(), op(30, 2, scene(true)), op(40, 3, kNote)},
       kOver},
      {"evidence_present after",
       Reason::kCutShort,
       {opened_line(), desk(30, 1, scene(true)), op(40, 2, gap), desk(90, 2, kSigned)},
       kBelieved},
      {"count_limit",
       Reason::kNoData,
       {opened_line(), op(10, 2, scene(true)), op(20, 3, kNote), op(40, 5, kNote),
        op(60, 6, scene(false)), op(90, 7, kSigned)},
       kLost},
      {"count_limit",
       Reason::kClockDoubt,
       {opened_line(), op(10, 2, scene(true)), apart(line_at(58, "probe", 1, kChecked)),
        op(60, 3, scene(false)), op(90, 4, kSigned)},
       kClocks},
      {"count_limit", Reason::kSourcesDisagree,
       join(odd, {desk(10, 1, scene(true)), desk(60, 2, scene(false)), desk(90, 3, kSigned)}),
       kBelieved},
      {"count_limit", Reason::kNotYet, {opened_line(), op(10, 2, scene(true))}, kOver},
      {"count_limit",
       Reason::kCutShort,
       {opened_line(), desk(10, 1, scene(true)), op(40, 2, gap), desk(60, 2, scene(false)),
        desk(90, 3, kSigned)},
       kBelieved},
      {"enough_strength",
       Reason::kNoData,
       {opened_line(), op(10, 2, tied(true)), line_at(20, "gps.truck", 1, moving(true)),
        line_at(50, "gps.truck", 2, moving(false)), op(90, 3, kSigned)},
       "the car's mass"},
  };
}

// Strength needs files: a strap of 900 kg across holds half of 1,800 kg.
struct Strapped {
  Reason reason;
  std::string mass;
  Lines lines;
  const char* decides;
};

std::vector<Strapped> rows_of_strength() {
  const auto strap = [](bool on) {
    return fmt::format(R"("tiedown":{{"on":{},"gear":"s","wheel":"LF","path":"ACROSS"}})", on);
  };
  const Lines driven{opened_line(), op(10, 2, strap(true)),
                     line_at(20, "gps.truck", 1, moving(true)),
                     line_at(50, "gps.truck", 2, moving(false)), op(90, 3, kSigned)};
  return {
      {Reason::kTooClose, "mass: \"1790 kg\" mass_sd: \"20 kg\"", driven, "the mass"},
      // Off again 2 s after the truck stood, by a clock off by up to 5 s.
      {Reason::kClockDoubt,
       "mass: \"1700 kg\"",
       {opened_line(), op(10, 2, strap(true)), op(52, 3, strap(false)),
        apart(line_at(20, "gps.truck", 1, moving(true))),
        apart(line_at(50, "gps.truck", 2, moving(false))), op(90, 4, kSigned)},
       kClocks},
      {Reason::kNotYet,
       "mass: \"1700 kg\"",
       {opened_line(), op(10, 2, strap(true)), line_at(20, "gps.truck", 1, moving(true))},
       kOver},
      {Reason::kCutShort, "mass: \"1700 kg\"",
       join({opened_line(), op(10, 2, strap(true)), op(90, 3, kSigned)},
            fixes("gps.truck", 1, 20, 0.0, 0.02)),
       "truck.speed"},
  };
}

Finding of_strapped(const Strapped& row) {
  const std::string text =
      "id: \"t\" version: \"1\" title: \"t\"\nphase { id: \"driving\" opens: \"truck.moving.on\" "
      "closes: \"truck.moving.off\" longest: \"4 h\" }\nrule { " +
      rule_head("r") + kForms.at("enough_strength") + " }";
  const std::string files =
      "gear { id: \"s\" kind: WEBBING wll: \"900 kg\" in_service: \"2025-01-10\" inspect_by: "
      "\"2027-01-10\" }\nvehicle { id: \"car\" " +
      row.mass + " }\n";
  const auto rules = Rulebook::load({{"p.textproto", text}}, {{"r.textproto", files}});
  EXPECT_TRUE(rules) << (rules ? "" : rules.error().message);
  return judge_job(*rules, row.lines).at(0);
}

// What a conflict hides of straps is a strength that nobody knows, and is told as no_data.
const std::map<std::string, std::string> kNeverDisagree{
    {"enough_strength", "straps of which two lines of one number tell otherwise: no_data"}};

// Where noise cannot make a rule undecided.
const std::map<std::string, std::string> kNeverTooClose{
    {"never_together", "a state that noise leaves open is unknown: no_data"},
    {"comes_first", "times are blurred by clocks, not by noise"},
    {"follows_within", "times are blurred by clocks, not by noise"},
    {"stays_until", "times are blurred by clocks, not by noise"},
    {"wait_between", "times are blurred by clocks, not by noise"},
    {"count_limit", "events are whole; clocks and gaps alone leave their number open"},
};

void expect_reason(const std::string& form, Reason reason, const Finding& found,
                   const std::string& decides) {
  const std::string what = form + ", " + word(reason) + ": " + told(found);
  EXPECT_EQ(found.verdict, Verdict::kUnproven) << what;
  EXPECT_STREQ(word(found.reason), word(reason)) << what;
  std::string all;
  for (const std::string& wanted : found.would_decide) all += wanted + "; ";
  EXPECT_NE(all.find(decides), std::string::npos) << what << "\nwould decide it: " << all;
}

TEST(Reasons, EveryFormHasEachOrCannot) {
  std::map<std::string, std::set<Reason>> seen;
  const auto base = [](const std::string& form) { return form.substr(0, form.find(' ')); };
  for (const auto& rows :
       {rows_of_order(), rows_of_stays(), rows_of_measures(), rows_of_states(), rows_of_counts()}) {
    for (const Row& row : rows) {
      expect_reason(row.form, row.reason, judged_form(kForms.at(row.form), row.lines, kPhases),
                    row.decides);
      EXPECT_TRUE(seen[base(row.form)].insert(row.reason).second) << row.form << " twice";
    }
  }
  for (const Strapped& row : rows_of_strength()) {
    expect_reason("enough_strength", row.reason, of_strapped(row), row.decides);
    EXPECT_TRUE(seen["enough_strength"].insert(row.reason).second);
  }
  for (const auto& [form, why] : kNeverTooClose) {
    EXPECT_FALSE(why.empty());
    EXPECT_TRUE(seen[form].insert(Reason::kTooClose).second) << form << " can: " << why;
  }
  for (const auto& [form, why] : kNeverDisagree) {
    EXPECT_FALSE(why.empty());
    EXPECT_TRUE(seen[form].insert(Reason::kSourcesDisagree).second) << form << " can: " << why;
  }
  EXPECT_EQ(seen.size(), 14U);  // Twelve forms, all_of and any_of.
  for (const auto& [form, reasons] : seen) EXPECT_EQ(reasons.size(), 6U) << form;
}

}  // namespace
}  // namespace fairlead::judge
