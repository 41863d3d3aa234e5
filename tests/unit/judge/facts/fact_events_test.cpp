// Events of a job (vocabulary.md 2): edges of facts, where more may hide, the first touch, who
// speaks of what.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "tests/unit/judge/facts/facts_kit.h"

namespace fairlead::judge {
namespace {

TEST(Edges, OfFAreOffOnlyAfterOn) {
  Job job({opened(), op(10, 2, moving(false)), op(20, 3, moving(true)), op(30, 4, moving(false)),
           closed(s(60), 5)});
  EXPECT_EQ(job.events("truck.moving.off"), "30#3");
  EXPECT_EQ(job.events("truck.moving.on"), "20#2");
  Job ground({opened(), op(10, 2, wheels("ALL", "DECK")), op(20, 3, wheels("ALL", "GROUND")),
              closed(s(60), 4)});
  EXPECT_EQ(ground.events("wheels.on_ground.off"), "10#1");
  EXPECT_EQ(ground.events("wheels.on_ground.on"), "20#2");
}

TEST(Edges, AfterAGapMayLieAnywhereInIt) {
  Job on({opened(), op(5, 2, scene(false)), op(10, 3, kNote), op(20, 5, kNote),
          op(30, 6, scene(true)), closed(s(60), 7)});
  EXPECT_EQ(on.events("scene.set.on"), "30-19.999999#4");
  // On, unknown, on again: no edge; the next off is one.
  Job again({opened(), op(5, 2, scene(true)), op(10, 3, kNote), op(20, 5, kNote),
             op(30, 6, scene(true)), op(40, 7, scene(false)), closed(s(60), 8)});
  EXPECT_EQ(again.events("scene.set.on"), "5#1");
  EXPECT_EQ(again.events("scene.set.off"), "40#5");
  // Never named before: since the first line of a person's was lost.
  Job fresh({opened(), op(5, 2, kNote), op(9, 4, kNote), op(12, 5, kNote), op(15, 7, kNote),
             op(30, 8, moving(true)), closed(s(60), 9)});
  EXPECT_EQ(fresh.events("truck.moving.on"), "30-24.999999#5");
  Job whole({opened(), op(30, 2, moving(true)), closed(s(60), 3)});
  EXPECT_EQ(whole.events("truck.moving.on"), "30#1");
  Job later({opened(), op(30, 2, moving(true)), op(40, 4, kNote), closed(s(60), 5)});
  EXPECT_EQ(later.events("truck.moving.on"), "");
  Job early({op(-9, 1, kNote), opened(0, "", 3), op(30, 4, moving(true)), closed(s(60), 5)});
  EXPECT_EQ(early.events("truck.moving.on"), "30-29.999999#2");
  // Twice unknown before it is known: since the first.
  Job twice({opened(), op(5, 2, moving(false)), op(10, 3, kNote), op(12, 5, kNote),
             op(14, 7, kNote), op(30, 8, moving(true)), closed(s(60), 9)});
  EXPECT_EQ(twice.events("truck.moving.on"), "30-19.999999#5");
  // Of a channel of its own, or of who does not speak of it, a gap hides nothing.
  Job channel({opened(), op(5, 2, gap("line.pull")), line(6, "box", 1, kNote),
               line(9, "box", 3, kNote), op(30, 3, moving(true)), closed(s(60), 4)});
  EXPECT_EQ(channel.events("truck.moving.on"), "30#4");
}

TEST(Hidden, IsAnywhereWhereNobodySpokeOfAFactThatIsUnknownAtFirst) {
  Job job({opened(), op(5, 2, kNote), closed(s(60), 3)});
  EXPECT_EQ(told(job.state->facts.hidden("screen.awake.on")), "0-60 no_data;");
  EXPECT_EQ(told(job.state->facts.hidden_in_gaps("screen.awake.on")), "");
  EXPECT_EQ(told(job.state->facts.hidden("smoke.on")), "");
  // In what is lost before the first word, and wherever it is unknown after it.
  Job gaps({opened(), op(5, 2, kNote), op(9, 4, kNote), op(30, 5, moving(true)), op(40, 6, kNote),
            op(50, 8, kNote), closed(s(60), 9)});
  EXPECT_EQ(told(gaps.state->facts.hidden("truck.moving.off")),
            "5.000001-30 no_data; 40.000001-60 no_data;");
  EXPECT_EQ(told(gaps.state->facts.hidden_in_gaps("truck.moving.off")),
            told(gaps.state->facts.hidden("truck.moving.off")));
  Job lasting({opened(), op(5, 2, kNote), op(9, 4, moving(true)), closed(s(60), 5)});
  EXPECT_EQ(told(lasting.state->facts.hidden("truck.moving.off")), "5.000001-9 no_data;");
  // A fact that an instrument tells may have been another before its first reading where a line is
  // lost.
  const auto fix = [](double second, uint32_t seq, double mps) {
    return line(
        second, "gps.truck", seq,
        fmt::format(
            R"("fix":{{"latDeg":44,"lonDeg":-30,"speedMps":{},"hSdM":2,"speedSdMps":0.01,"mode":3}})",
            mps));
  };
  const auto before = [&](double from, double to, double first) {
    Job some({opened(), op(from, 2, kNote), op(to, 4, kNote), op(30, 5, gap("line.pull")),
              fix(first, 1, 0), fix(first + 1, 2, 5), closed(s(60), 6)});
    return told(some.state->facts.hidden("truck.moving.on"));
  };
  // A speed that may be over 0.5 km/h (0.139 m/s) or not.
  Job unsure({opened(), fix(5, 1, 0), fix(6, 2, 0.14), fix(8, 3, 0), closed(s(9), 2)});
  EXPECT_EQ(unsure.fact("truck.moving"), "U 5#1mF 6U 8#3mF");
  EXPECT_EQ(told(unsure.state->facts.hidden("truck.moving.on")), "6-8 no_data;");
  EXPECT_EQ(before(5, 9, 50), "5.000001-9 no_data; 54-60 cut_short;");
  EXPECT_EQ(before(5, 9, 8), "5.000001-8 no_data; 12-60 cut_short;");
  EXPECT_EQ(before(5, 9, 5.000002), "5.000001-5.000002 no_data; 9.000002-60 cut_short;");
  EXPECT_EQ(before(5, 9, 5.000001), "9.000001-60 cut_short;");
  EXPECT_EQ(before(5, 9, 5), "9-60 cut_short;");
  EXPECT_EQ(before(-5, 9, 50), "0.000001-9 no_data; 54-60 cut_short;");
  Job cut({opened(), line(5, "desk", 1, kNote), line(7, "desk", 2, gap("desk")), op(9, 2, kNote),
           closed(s(60), 3)});
  EXPECT_EQ(told(cut.state->facts.hidden("arrived")), "5.000001-60 cut_short;");
}

TEST(FirstTouch, IsTheFirstOfItsEvents) {
  const auto first = [](const std::vector<v1::Observation>& lines) {
    Lines all{opened(), closed(s(60), 2)};
    all.insert(all.end(), lines.begin(), lines.end());
    return Job(all).events("first_touch");
  };
  EXPECT_EQ(first({}), "");
  EXPECT_EQ(first({line(10, "desk", 1, kNote)}), "");
  for (const std::string& touch :
       {clamp("POSITIVE", true), clamp("NEGATIVE", true), clamp("POSITIVE", true, "LID_LEAD"),
        clamp("NEGATIVE", true, "LID_LEAD"), rigging(true),
        std::string(R"("cover":{"which":"panel","off":true})"),
        std::string(R"("door":{"which":"driver","means":"TOOL"})"),
        std::string(R"("connector":{"event":"TETHER_DRAWN"})"),
        std::string(R"("connector":{"event":"RELEASED"})"),
        std::string(R"("connector":{"event":"OUT"})"),
        std::string(R"("connector":{"event":"IN"})")})
    EXPECT_EQ(first({line(10, "desk", 1, touch)}), "10#1") << touch;
  EXPECT_EQ(
      first({line(10, "desk", 1, rigging(false)), line(20, "desk", 2, clamp("POSITIVE", true)),
             line(15, "box", 1, rigging(true))}),
      "15#2m");
  // Of one instant: in the order of the list.
  EXPECT_EQ(first({line(10, "a", 1, rigging(true)), line(10, "b", 1, clamp("NEGATIVE", true)),
                   line(10, "c", 1, R"("door":{"which":"driver","means":"TOOL"})")}),
            "10#2m");
  // By clocks of their own another may have been first: 2 and 1 s off, 15 shown 3 s after it.
  EXPECT_EQ(
      first({line(12, "a", 1, rigging(true), R"("clock":"a","timeUncertaintyMs":1000)"),
             line(15, "b", 1, clamp("POSITIVE", true), R"("clock":"b","timeUncertaintyMs":4000)")}),
      "12-1.123106@1(1)#1m");
  EXPECT_EQ(first({line(12, "a", 1, rigging(true), R"("clock":"a","timeUncertaintyMs":1000)"),
                   line(15, "b", 1, clamp("POSITIVE", true), R"("clock":"b")")}),
            "12@-1(?)#1m");
  EXPECT_EQ(
      first({line(12, "a", 1, rigging(true), R"("clock":"a","timeUncertaintyMs":1000)"),
             line(90, "b", 1, clamp("POSITIVE", true), R"("clock":"b","timeUncertaintyMs":4000)"),
             line(15, "c", 1, clamp("NEGATIVE", true), R"("clock":"c","timeUncertaintyMs":4000)"),
             line(20, "d", 1, clamp("NEGATIVE", true, "LID_LEAD"), R"("clock":"d")")}),
      "12@-1(?)#1m");
}

TEST(Sources, AreThoseThatSpeakOfIt) {
  Lines lines{
      opened(), line(5, "box", 1, R"("smoke":{"seen":true})"),
      line(
          6, "camera", 1,
          R"("photo":{"view":"front","when":"BEFORE","sha256":"aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa","mediaType":"image/jpeg"})"),
      line(7, "desk", 1, kNote), closed(s(60), 2)};
  const auto one = [](const std::string& source, uint32_t seq, const std::string& signal) {
    return sampled(s(8), source, seq, signal, 1);
  };
  for (const auto& sample : {one("volts", 1, "clamp.volts"), one("amps", 1, "clamp.amps"),
                             one("pos", 1, "clamp.pos.contact"), one("neg", 1, "clamp.neg.contact"),
                             one("pull", 1, "line.pull"), one("out", 1, "line.out")})
    lines.push_back(sample);
  lines.push_back(line(8, "gps.truck", 1,
                       R"("fix":{"latDeg":44,"lonDeg":-30,"speedMps":1,"hSdM":0.1,"mode":3})"));
  Job job(lines);
  const auto of = [&](const std::string& name) {
    std::string text;
    for (const std::string& source : job.state->facts.sources(name)) text += source + " ";
    return text;
  };
  EXPECT_EQ(of("smoke.on"), "box operator ");
  EXPECT_EQ(of("photo:rear"), "camera operator ");
  EXPECT_EQ(of("photo.before:rear"), "camera operator ");
  EXPECT_EQ(of("note"), "desk operator ");
  EXPECT_EQ(of("boost.on"), "neg operator pos volts ");
  EXPECT_EQ(of("clamp.connected.on"), "volts ");
  EXPECT_EQ(of("clamp.shorted.on"), "amps volts ");
  EXPECT_EQ(of("clamp.surge.on"), "amps volts ");
  EXPECT_EQ(of("clamp.positive.on"), "neg operator pos ");
  EXPECT_EQ(of("lid.negative.off"), "neg operator pos ");
  EXPECT_EQ(of("line.taut.on"), "operator pull ");
  EXPECT_EQ(of("line.holding.on"), "operator out pull ");
  EXPECT_EQ(of("rolling.on"), "operator out pull ");
  EXPECT_EQ(of("truck.moving.on"), "gps.truck operator ");
  EXPECT_EQ(of("scene.set.on"), "operator ");
  // A person whose lines are lost may have said anything; an instrument may not.
  Job lost({opened(), line(5, "desk", 1, kNote), line(7, "desk", 3, kNote),
            line(5, "box", 1, kNote), line(7, "box", 3, kNote), closed(s(60), 2)});
  EXPECT_EQ(lost.state->facts.sources("scene.set.on"), (std::set<std::string>{"desk", "operator"}));
}

}  // namespace
}  // namespace fairlead::judge
