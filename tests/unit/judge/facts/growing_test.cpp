// What is made of a job's lines goes on as more of them come: at every line the same as made anew
// of all lines so far.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "tests/unit/judge/facts/facts_kit.h"

namespace fairlead::judge {
namespace {

const std::string kFiles =
    "vehicle { id: \"car\" mass: \"1500 kg\" mass_sd: \"20 kg\" point { id: \"eye\" kind: TOW_EYE "
    "rating: \"8 kN\" } }\n"
    "truck { id: \"truck-1\" winch { line_rating: \"20 kN\" layer { number: 1 pull: \"36 kN\" "
    "length: \"30 m\" } } }\n"
    "gear { id: \"a\" kind: WEBBING wll: \"600 kg\" }\n";
const std::vector<std::string> kQuantities{
    "vehicle.speed",      "truck.speed",  "line.pull",         "line.out",
    "line.leg_pull",      "line.rating",  "line.layer",        "point.rating",
    "line.free_roll",     "clamp.volts",  "clamp.amps",        "source.nominal",
    "clamp.pos.contact",  "battery.temp", "deck.tilt",         "rigging.legs_angle",
    "isolation.distance", "vehicle.mass", "tiedowns.strength", "tiedowns.count"};
const std::vector<std::string> kFacts{
    "clamp.positive", "boost",   "scene.set", "line.pulling", "line.taut", "truck.moving",
    "deck.moving",    "rigging", "tied",      "rolling",      "phase:set"};
const std::string kPhases =
    "phase { id: \"set\" opens: \"scene.set.on\" closes: \"scene.set.off\" longest: \"10 min\" }\n";

// All of it, in short; `bin_us`: of the speed's means too.
std::string all_of(JobState& state, const Rulebook& rules) {
  state.facts.use(rules.content().procedures.front());
  std::string text = told(state.lines) + "\n" + told(state.lines.gaps()) + "\n";
  for (const std::string& name : kQuantities) {
    for (const auto& [hole_us, bin_us] : {std::pair<int64_t, int64_t>{0, 0}, {s(1.5), s(2)}}) {
      const Series& series = state.quantities.series(name, hole_us, bin_us);
      text += fmt::format("{} {} {}: {} tau {} named {} mean {} after {} of {}\n", name, hole_us,
                          bin_us, told(series), series.tau_us, series.named, series.sd_of_mean,
                          word(series.after_last), series.origin);
    }
  }
  for (const std::string& name : kFacts) text += name + ": " + told(state.facts.fact(name)) + "\n";
  return text;
}

// Judged line by line in this order; how often it went on without being made anew.
int grown(const Lines& lines) {
  Job fresh({opened()}, kPhases, kFiles);
  LineReader reader;
  std::deque<ReadLine> read;
  std::vector<const ReadLine*> so_far;
  std::unique_ptr<JobState> state;
  int went_on = 0;
  for (size_t i = 0; i < lines.size(); ++i) {
    read.push_back(reader.read(lines[i]));
    (void)reader.let_go(read.back());  // As a truck does with samples.
    so_far.push_back(&read.back());
    const ReadLine* const newest[] = {so_far.back()};
    if (state != nullptr && state->grow(newest)) {
      ++went_on;
    } else {
      state =
          std::make_unique<JobState>(fresh.rules.content(), reader,
                                     std::span<const ReadLine* const>(so_far), std::string("j"));
    }
    const std::span<const v1::Observation> all(lines.data(), i + 1);
    JobState anew(fresh.rules.content(), all, std::string("j"));
    const std::string ours = all_of(*state, fresh.rules), theirs = all_of(anew, fresh.rules);
    EXPECT_EQ(ours, theirs) << "at line " << i;
    if (ours != theirs) break;
  }
  return went_on;
}

// Instruments that read on, words between, with a gap, a bad reading, and a word lost now and then.
Lines busy_job(uint64_t seed) {
  std::mt19937_64 random(seed);
  const auto one_in = [&](uint64_t n) { return random() % n == 0; };
  std::map<std::string, uint32_t> seqs{{"operator", 1}};
  Lines lines{opened()};
  const auto put = [&](int64_t us, const std::string& source, const std::string& kind,
                       const std::string& more = R"("clock":"truck")") {
    seqs[source] += one_in(60) ? 2 : 1;
    lines.push_back(said(us, source, seqs[source], kind, more));
  };
  const std::vector<std::string> words{
      scene(true),
      scene(false),
      clamp("POSITIVE", true),
      clamp("POSITIVE", false),
      clamp("NEGATIVE", true),
      mode("ROLLING"),
      mode("PARKED"),
      tiedown(true, R"("wheel":"LF")", "a"),
      tiedown(false, R"("wheel":"LF")", "a"),
      kNote,
      R"("rigging":{"on":true,"point":"eye","gear":["a"],"legsAngleDeg":60})",
      R"("rigging":{"on":false,"point":"eye","gear":["a"]})",
      R"("deck":{"tiltDeg":10})",
      R"("deck":{"moving":true})",
      R"("deck":{"moving":false})",
      R"("isolation":{"metres":15,"barrier":true})",
      R"("heat":{"celsius":41.5,"where":"battery"})",
      R"("sourcePower":{"on":true,"nominalVolts":12})"};
  put(1000, "operator", words[10]);  // An angle to begin with.
  const bool rope = one_in(2), tag = !rope || one_in(3);
  double out = 40, course = 10;
  for (int64_t us = 0, step = 0; step < 120; ++step) {
    us += 250'000 + static_cast<int64_t>(random() % 500'000);
    if (one_in(25)) us += 4'000'000;
    const auto sample = [&](const std::string& source, const std::string& signal, double value) {
      put(us - static_cast<int64_t>(random() % 300'000), source,
          fmt::format(R"("sample":{{"signal":"{}","value":{}}})", signal, value),
          one_in(20) ? R"("clock":"truck","quality":"SUSPECT")" : R"("clock":"truck")");
    };
    if (one_in(3)) sample("line", "line.pull", static_cast<double>(random() % 4000));
    if (one_in(15))
      put(us - 13'000'000, "slow", R"("sample":{"signal":"line.pull","value":3000})");  // Late.
    if (rope && one_in(3)) sample("rope", "line.out", out -= 0.3);
    if (one_in(5)) sample("volts", "clamp.volts", 12.5);
    const auto fix = [&](const std::string& source) {
      put(us, source,
          fmt::format(
              R"("fix":{{"latDeg":44,"lonDeg":-30,"speedMps":{},"courseDeg":{},"hSdM":2,"speedSdMps":0.1,"mode":3}})",
              0.5 + static_cast<double>(random() % 10) / 10, course));
      course = std::fmod(course + 7, 360);
    };
    if (tag && one_in(2)) fix("gps.tag");
    if (one_in(6)) fix("gps.truck");
    if (one_in(8)) put(us, one_in(4) ? "desk" : "operator", words[random() % words.size()]);
    if (one_in(70)) put(us, "line", gap(one_in(2) ? "line" : "line.pull"));
    if (rope && one_in(90)) put(us, "rope", gap("rope"));
  }
  return lines;
}

TEST(Growing, SaysAtEveryLineWhatAllLinesSay) {
  int went_on = 0;
  for (uint64_t seed = 1; seed <= 4; ++seed) {
    went_on += grown(busy_job(seed));
    if (testing::Test::HasFailure()) FAIL() << "seed " << seed;
  }
  EXPECT_GT(went_on, 200);
}

// What people said, with lines of theirs lost before it was said again, and readings of one
// instant.
TEST(Growing, TakesUpWordsAfterLostLines) {
  const auto tilt = [](double degrees) {
    return fmt::format(R"("deck":{{"tiltDeg":{}}})", degrees);
  };
  const Lines lines{
      opened(),
      op(1, 2, tilt(5)),
      line(2, "desk", 1, kNote),
      sampled(s(2.5), "line", 1, "line.pull", 100),
      line(3, "desk", 3, kNote),
      sampled(s(3.5), "line", 2, "line.pull", 100),
      sampled(s(3.5), "line", 3, "line.pull", 200),
      op(4, 3, tilt(6)),
      op(5, 4, kNote),
      op(6, 5, tilt(7)),
      sampled(s(7), "line", 4, "line.pull", 300),
      sampled(s(8), "line", 5, "line.pull", 300),
      sampled(s(9), "rope", 1, "line.out", 20),
      sampled(s(10), "rope", 2, "line.out", 19),
      op(11, 6, R"("rigging":{"on":true,"point":"eye","gear":["a"],"legsAngleDeg":60})"),
      sampled(s(12), "line", 6, "line.pull", 300),
      sampled(s(13), "line", 7, "line.pull", 400),
      sampled(s(13), "rope", 3, "line.out", 18),
      sampled(s(14), "line", 8, "line.pull", 500)};
  EXPECT_GT(grown(lines), 8);
}

}  // namespace
}  // namespace fairlead::judge
