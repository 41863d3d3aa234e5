// Facts and events of a job (vocabulary.md 2): as people say them, as instruments show them, and
// what a lost line leaves open.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "tests/unit/judge/facts/facts_kit.h"

namespace fairlead::judge {
namespace {

TEST(Words, HoldFromWhereTheyAreSaid) {
  Job job({opened(), op(5, 2, scene(true)), op(9, 3, scene(false)), closed(s(60), 4)});
  EXPECT_EQ(job.fact("scene.set"), "F 5#1T 9#2F");
  EXPECT_EQ(job.fact("smoke"), "F");
  EXPECT_EQ(job.fact("screen.awake"), "U");
  EXPECT_EQ(job.events("scene.set.on"), "5#1");
  EXPECT_EQ(job.events("scene.set.off"), "9#2");
  EXPECT_EQ(job.events("screen.awake.on"), "");
  EXPECT_EQ(job.events("opened"), "0#0");
  EXPECT_EQ(job.events("closed"), "60#3");
  EXPECT_EQ(job.events("no.such"), "");
}

TEST(Words, OfLessThanHalfASecondAreNone) {
  Job job({opened(), op(5, 2, scene(true)), op(5.499999, 3, scene(false)), op(20, 4, scene(true)),
           op(30, 5, scene(false)), op(30.5, 6, scene(true)), closed(s(60), 7)});
  EXPECT_EQ(job.fact("scene.set"), "F 5.499999#2F 20#3T 30#4F 30.5#5T");
}

TEST(Words, OfBadQualityAreUnknown) {
  Job job({opened(), line(5, "operator", 2, scene(true), R"("clock":"truck","quality":"SUSPECT")"),
           op(9, 3, scene(true)), closed(s(60), 4)});
  EXPECT_EQ(job.fact("scene.set"), "F 5U(no_data) 9#2T");
}

TEST(Words, AfterTheEndAreNoneUnlessTheirClockTellsNothingOfThat) {
  Job job(
      {opened(), closed(s(60), 2), op(60, 3, scene(true)), op(60.000001, 4, wheels("ALL", "DECK")),
       line(70, "camera", 1, R"("arrived":{})", R"("clock":"own")"),
       line(
           80, "camera", 2,
           R"("found":{"rolls":"YES","lockedWheels":[],"flatTyres":[],"power":"NONE","keys":true,"fluids":false,"airbags":false,"movedByOthersBefore":false,"place":"LOT","surface":"DRY"})",
           R"("clock":"other","timeUncertaintyMs":0)")});
  EXPECT_EQ(job.fact("scene.set"), "F 60-60#2T");
  EXPECT_EQ(job.fact("wheels.on_deck"), "F");
  EXPECT_EQ(job.events("arrived"), "70@1(?)#4m");
  EXPECT_EQ(job.events("found"), "");
}

TEST(Words, AreUnknownAfterALostLineOfAPersons) {
  Job job({opened(), op(5, 2, scene(true)), op(8, 3, kNote), op(20, 5, kNote),
           op(25, 6, scene(false)), closed(s(60), 7)});
  EXPECT_EQ(told(job.state->lines.gaps()), "operator 8-20 no_data 1 lost;");
  EXPECT_EQ(job.fact("scene.set"), "F 5#1T 8.000001U(no_data) 25#4F");
  EXPECT_EQ(job.fact("smoke"), "F 8.000001U(no_data)");
  EXPECT_EQ(job.fact("screen.awake"), "U 8.000001U(no_data)");
  EXPECT_EQ(job.events("scene.set.off"), "25-16.999999#4");
  EXPECT_EQ(told(job.state->facts.hidden("scene.set.on")), "8.000001-25 no_data;");
  EXPECT_EQ(told(job.state->facts.hidden("smoke.on")), "8.000001-60 no_data;");
  EXPECT_EQ(told(job.state->facts.hidden("arrived")), "8.000001-20 no_data;");
  EXPECT_EQ(told(job.state->facts.hidden("opened")), "");
  // Right after a word: nobody knows whether it lasted.
  Job at_once({opened(), op(5, 2, scene(true)), op(20, 4, kNote), closed(s(60), 5)});
  EXPECT_EQ(at_once.fact("scene.set"), "F 5U(no_data)!");
  // Lost before the opening, or for good.
  Job before({op(-5, 1, kNote), opened(0, "", 3), op(5, 4, scene(true)), closed(s(60), 5)});
  EXPECT_EQ(before.fact("scene.set"), "F 0.000001U(no_data) 5#2T");
  EXPECT_EQ(told(before.state->facts.hidden("arrived")), "0.000001-0 no_data;");
}

TEST(Words, SaidWhileAnothersLinesAreLostProveNothing) {
  const auto desk = [](double second) {
    Job job({opened(), op(8, 2, kNote), op(20, 4, kNote), line(second, "desk", 1, scene(true)),
             closed(s(60), 5)});
    return job.fact("scene.set");
  };
  EXPECT_EQ(desk(5), "F 5#1T 8.000001U(no_data)");
  EXPECT_EQ(desk(8), "F 8U(no_data)!");
  EXPECT_EQ(desk(8.000001), "F 8.000001U(no_data)");
  EXPECT_EQ(desk(19.999999), "F 8.000001U(no_data)");
  EXPECT_EQ(desk(20), "F 8.000001U(no_data) 20#2T");
}

TEST(Words, SaidInAGapOfWhoMaySpeakOfItProveNothing) {
  const Lines lines{opened(),
                    line(5, "box", 1, clamp("NEGATIVE", true)),
                    line(9, "box", 2, kNote),
                    line(20, "box", 4, kNote),
                    op(12, 2, clamp("POSITIVE", true)),
                    op(13, 3, scene(true)),
                    closed(s(60), 4)};
  Job job(lines);
  EXPECT_EQ(job.fact("clamp.positive"), "F 9.000001U(no_data)");
  EXPECT_EQ(job.fact("scene.set"), "F 13#4T");
  // Of one channel: only what is said of that.
  const auto said_by_desk = [](const std::string& channel) {
    Job stated({opened(), op(10, 2, kNote), op(12, 3, gap(channel)),
                line(15, "desk", 1, scene(true)), op(20, 4, kNote), closed(s(60), 5)});
    return stated.fact("scene.set");
  };
  EXPECT_EQ(said_by_desk("line.pull"), "F 15#3T");
  EXPECT_EQ(said_by_desk("scene.set"), "F 10.000001U(no_data)");
  EXPECT_EQ(said_by_desk("operator"), "F 10.000001U(no_data)");
}

TEST(Words, OfAnInstrumentsGapConcernOnlyWhatItSpeaksOf) {
  Job job({opened(), line(5, "box", 1, scene(true)), line(9, "box", 2, kNote),
           line(20, "box", 4, kNote), op(3, 2, R"("smoke":{"seen":true})"), closed(s(60), 3)});
  EXPECT_EQ(job.fact("scene.set"), "F 5#2mT 9.000001U(no_data)");
  EXPECT_EQ(job.fact("smoke"), "F 3#1T");
  EXPECT_EQ(told(job.state->facts.hidden("arrived")), "");
  EXPECT_EQ(told(job.state->facts.hidden("note")), "9.000001-20 no_data;");
  EXPECT_EQ(job.state->facts.sources("scene.set.on"), (std::set<std::string>{"box", "operator"}));
  // One channel of it: that fact, no other.
  Job channel({opened(), line(5, "box", 1, scene(true)),
               line(6, "box", 2, R"("smoke":{"seen":true})"), line(9, "box", 3, gap("scene.set")),
               line(20, "box", 4, kNote), closed(s(60), 2)});
  EXPECT_EQ(channel.fact("scene.set"), "F 5#1mT 6.000001U(no_data)");
  EXPECT_EQ(channel.fact("smoke"), "F 6#2mT");
  EXPECT_EQ(told(channel.state->facts.hidden("note")), "");
  // Who speaks of other things loses no word of a clamp.
  Job others({opened(), op(5, 2, clamp("POSITIVE", true)), line(6, "box", 1, scene(true)),
              line(20, "box", 3, kNote), closed(s(60), 3)});
  EXPECT_EQ(others.fact("clamp.positive"), "F 5#1T");
  // Who says one clamp's state may have said any clamp's.
  Job clamps({opened(), line(5, "box", 1, clamp("POSITIVE", true)), line(9, "box", 2, kNote),
              line(20, "box", 4, kNote), closed(s(60), 2)});
  EXPECT_EQ(clamps.fact("clamp.positive"), "F 5#1mT 9.000001U(no_data)");
  EXPECT_EQ(clamps.fact("clamp.negative"), "F 9.000001U(no_data)");
  EXPECT_EQ(clamps.fact("lid.negative"), "F 9.000001U(no_data)");
  EXPECT_EQ(clamps.fact("scene.set"), "F");
  EXPECT_EQ(clamps.state->facts.sources("lid.positive.on"),
            (std::set<std::string>{"box", "operator"}));
}

TEST(Instruments, ReplaceTheWordFromTheirFirstLineOn) {
  Job job({opened(), op(2, 2, moving(true)), line(5, "gps.truck", 1, moving(false)),
           op(9, 3, moving(true)), line(12, "gps.truck", 2, moving(true)), op(20, 5, kNote),
           closed(s(60), 6)});
  EXPECT_EQ(job.fact("truck.moving"), "U 2#1T 5#2mF 12#4mT");
  Job same(
      {opened(), line(5, "gps.truck", 1, moving(false)), op(5, 2, moving(true)), closed(s(60), 3)});
  EXPECT_EQ(same.fact("truck.moving"), "U 5#1mF");
  // Before its first line a lost word counts; what it says while a person's lines are lost stands.
  Job lost({opened(), op(4, 2, moving(false)), op(6, 3, kNote), op(30, 5, kNote),
            line(12, "gps.truck", 1, moving(true)), closed(s(60), 6)});
  EXPECT_EQ(lost.fact("truck.moving"), "U 4#1F 6.000001U(no_data) 12#3mT");
  Job edge({opened(), op(2, 2, moving(false)), op(12, 3, kNote), op(30, 5, kNote),
            line(12, "gps.truck", 1, moving(true)), closed(s(60), 6)});
  EXPECT_EQ(edge.fact("truck.moving"), "U 2#1F 12#2mT");
  Job bad({opened(), line(5, "gps.truck", 1, moving(true)), line(8, "gps.truck", 2, moving(false)),
           line(30, "gps.truck", 4, moving(true)), closed(s(60), 2)});
  EXPECT_EQ(bad.fact("truck.moving"), "U 5#1mT 8U(no_data)! 30#3mT");
}

TEST(Steering, ThatIsNotByWireIsLiveUnlessSomebodySaysOtherwise) {
  const Lines nothing{opened(), op(5, 2, kNote), op(9, 4, kNote), closed(s(60), 5)},
      words{opened(), op(5, 2, R"("steering":{"live":false})"), closed(s(60), 3)};
  const std::string rack = "vehicle { id: \"car\" steer_by_wire: false }",
                    wire = "vehicle { id: \"car\" steer_by_wire: true }";
  EXPECT_EQ(Job(nothing, "", rack).fact("steering.live"), "T");
  EXPECT_EQ(Job(nothing, "", wire).fact("steering.live"), "U 5.000001U(no_data)");
  EXPECT_EQ(Job(nothing).fact("steering.live"), "U 5.000001U(no_data)");
  EXPECT_EQ(Job(words, "", rack).fact("steering.live"), "U 5#1F");
  EXPECT_EQ(Job(nothing, "", rack).fact("screen.awake"), "U 5.000001U(no_data)");
}

TEST(Words, HoldNoLongerThanTheirLongestAge) {
  const auto aged = [](const Lines& lines,
                       const std::string& age =
                           "longest_age { fact: \"scene.set\" age: \"10 s\" }\n") {
    return Job(lines, age).fact("scene.set");
  };
  EXPECT_EQ(aged({opened(), op(5, 2, scene(true)), op(15, 3, scene(true)), closed(s(25), 4)}),
            "F 5#1T");
  EXPECT_EQ(
      aged({opened(), op(5, 2, scene(true)), op(15.000001, 3, scene(true)), closed(s(25), 4)}),
      "F 5#1T 15U(no_data) 15.000001#2T");
  EXPECT_EQ(
      aged({opened(), op(5, 2, scene(true)), op(15, 3, scene(true)), closed(s(25.000001), 4)}),
      "F 5#1T 25U(cut_short)");
  EXPECT_EQ(aged({opened(), op(5, 2, scene(true)), op(30, 3, scene(false)), closed(s(60), 4)}),
            "F 5#1T 15U(no_data) 30#2F 40U(cut_short)");
  EXPECT_EQ(aged({opened(), op(5, 2, scene(true)), closed(s(60), 3)},
                 "longest_age { fact: \"smoke\" age: \"10 s\" }\n"),
            "F 5#1T");
  // Of each procedure its own: known off since the age was over, or since it was said.
  Job job({opened(), op(5, 2, scene(true)), op(30, 3, scene(false)), closed(s(60), 4)});
  Job other({opened(), closed(s(60), 2)}, "longest_age { fact: \"scene.set\" age: \"10 s\" }\n");
  for (int round = 0; round < 2; ++round) {
    EXPECT_EQ(job.fact("scene.set"), "F 5#1T 30#2F");
    EXPECT_EQ(job.events("scene.set.off"), "30#2");
    job.state->facts.use(other.rules.content().procedures.front());
    EXPECT_EQ(job.fact("scene.set"), "F 5#1T 15U(no_data) 30#2F 40U(cut_short)");
    EXPECT_EQ(job.events("scene.set.off"), "30-15#2");
    job.state->facts.use(job.rules.content().procedures.front());
  }
}

TEST(Facts, FollowTheLinesThatCome) {
  Lines lines{opened(), op(5, 2, scene(true)), op(9, 3, kArrived),
              op(20, 4, clamp("POSITIVE", true)), closed(s(60), 5)};
  add_samples(lines, "jaw", "clamp.pos.contact", 10, {{0, 45}});
  Job job(lines);
  for (int round = 0; round < 2; ++round) {
    EXPECT_EQ(job.fact("scene.set"), "F 5#1T");
    EXPECT_EQ(job.events("scene.set.on"), "5#1");
    EXPECT_EQ(job.events("arrived"), "9#2");
    EXPECT_EQ(job.stays("job"), "0#0-60#49");
    EXPECT_EQ(job.state->facts.sources("scene.set.on"), std::set<std::string>{"operator"});
    EXPECT_EQ(job.state->facts.contradictions().size(), 1u);
    job.state->facts.follow(kBeginning);
    job.state->facts.use(job.rules.content().procedures.front());
  }
}

TEST(Facts, OfRiggingAndTiedownsNeedWhatCameBefore) {
  Job job({opened(), op(10, 2, rigging(true, "a")), op(20, 3, rigging(true, "b")),
           op(30, 4, rigging(false, "a")), op(40, 5, rigging(true, "b")),
           op(50, 6, rigging(false, "b")), closed(s(60), 7)});
  EXPECT_EQ(job.fact("rigging"), "F 10#1T 50#5F");
  EXPECT_EQ(job.fact("rigging:a"), "F 10#1T 30#3F");
  EXPECT_EQ(job.fact("rigging:b"), "F 20#2T 50#5F");
  const std::string lf = R"("wheel":"LF")", rf = R"("wheel":"RF")", point = R"("point":"LF")";
  Job tied({opened(), op(10, 2, tiedown(true, lf)), op(20, 3, tiedown(true, point)),
            op(30, 4, tiedown(true, lf, "s2")), op(40, 5, tiedown(true, rf)),
            op(50, 6, tiedown(false, lf)), op(60, 7, tiedown(false, lf, "s2")),
            op(70, 8, tiedown(false, rf)), op(80, 9, tiedown(false, point)), closed(s(90), 10)});
  EXPECT_EQ(tied.fact("tied"), "F 10#1T 80#8F");
  EXPECT_EQ(tied.fact("tied:LF"), "F 10#1T 60#6F");
  EXPECT_EQ(tied.fact("tied:RF"), "F 40#4T 70#7F");
  EXPECT_EQ(tied.fact("tied:LR"), "F");
}

TEST(Facts, OfWheelsAreCarriedFromLineToLine) {
  Job job({opened(), op(10, 2, wheels("LF", "DECK")), op(20, 3, wheels("RF", "DECK")),
           op(30, 4, wheels("LR", "DECK")), op(40, 5, wheels("RR", "DECK")), closed(s(60), 6)},
          "", "vehicle { id: \"car\" driven: FRONT }");
  EXPECT_EQ(job.fact("wheels.on_deck"), "F 10#1F 40#4T");
  EXPECT_EQ(job.fact("driven_wheels.on_ground"), "T 10#1T 20#2F");
  EXPECT_EQ(job.fact("wheels.on_ground"), "T 10#1T 40#4F");
  EXPECT_EQ(job.fact("loaded"), "F 10#1F 40#4T");
}

TEST(Derived, AreWorkedOutFromOthers) {
  Job job({opened(), op(10, 2, rigging(true)), op(20, 3, wheels("ALL", "LIFT")),
           op(30, 4, tiedown(true)), op(40, 5, tiedown(false)), op(50, 6, wheels("LF", "GROUND")),
           closed(s(60), 7)});
  EXPECT_EQ(job.fact("held_by_line_alone"), "F 10#1F 20#2T 30#3F 40#4T 50#5F");
  Job boost({opened(), op(10, 2, clamp("POSITIVE", true)), op(20, 3, clamp("NEGATIVE", true)),
             op(30, 4, R"("sourcePower":{"on":false,"nominalVolts":12})"),
             op(40, 5, R"("sourcePower":{"on":true,"nominalVolts":12})"),
             op(50, 6, clamp("POSITIVE", false)), closed(s(60), 7)});
  EXPECT_EQ(boost.fact("boost"), "F 10#1F 20#2T 30#3F 40#4T 50#5F");
  EXPECT_EQ(boost.fact("working"), "F 10#1F 20#2T 30#3F 40#4T 50#5F");
  Job deck({opened(), op(10, 2, R"("deck":{"moving":true})"),
            op(20, 3, R"("deck":{"moving":false})"), closed(s(60), 4)});
  EXPECT_EQ(deck.fact("working"), "F 10#1T 20#2F");
  Job roll({opened(), op(10, 2, mode("ROLLING")), op(20, 3, R"("deck":{"moving":true})"),
            op(30, 4, R"("deck":{"moving":false})"), line(35, "gps.truck", 1, moving(true)),
            line(40, "gps.truck", 2, moving(false)), op(45, 5, wheels("ALL", "SKATE")),
            op(50, 6, wheels("ALL", "GROUND")), op(55, 7, mode("PARKED")), closed(s(60), 8)});
  EXPECT_EQ(roll.fact("rolling"), "F 10#1T 20#2F 30#3T 35#4mF 40#5mT 45#6F 50#7T 55#8F");
}

TEST(Boost, IsToldByVoltsWhereNobodySaysClamps) {
  Lines lines{opened(), closed(s(60), 2)};
  add_samples(lines, "clamp", "clamp.volts", 10, {{0.5, 5}, {12, 5}, {0.5, 5}});
  EXPECT_EQ(Job(lines).fact("boost"), "F 10#1mF 15#6mT 20#11mF 26U(cut_short)");
  EXPECT_EQ(Job(lines).fact("clamp.connected"), "U 10#1mF 15#6mT 20#11mF 26U(cut_short)");
  // Volts of a meter out of date are none.
  const std::string old =
      "sensor { id: \"v\" channel: \"clamp.volts\" certificate: \"C\" valid_until: \"2026-03-01\" "
      "}";
  EXPECT_EQ(Job(lines, "", old).fact("boost"), "F");
  EXPECT_EQ(Job(lines, "", old).fact("clamp.connected"), "U");
  for (const std::string& word :
       {clamp("POSITIVE", false), clamp("NEGATIVE", false), clamp("POSITIVE", false, "LID_LEAD"),
        clamp("NEGATIVE", false, "LID_LEAD")}) {
    Lines said_too = lines;
    said_too.push_back(op(50, 2, word));
    said_too[1] = closed(s(60), 3);
    Job job(said_too);
    EXPECT_EQ(job.state->facts.fact("boost").at(kTen + s(16)), Tri::kFalse) << word;
  }
  for (const char* jaw : {"clamp.pos.contact", "clamp.neg.contact"}) {
    Lines jawed = lines;
    add_samples(jawed, "jaw", jaw, 50, {{0, 3}});
    Job job(jawed);
    EXPECT_EQ(job.state->facts.fact("boost").at(kTen + s(16)), Tri::kFalse) << jaw;
  }
  // Where nothing reads the volts, lost words may have been said; where a meter does, that the
  // source is off.
  Job lost({opened(), op(8, 2, kNote), op(20, 4, kNote), closed(s(60), 5)});
  EXPECT_EQ(lost.fact("boost"), "F 8.000001U(no_data)");
  Lines both = lines;
  both[1] = closed(s(60), 3);
  EXPECT_EQ(Job(both).fact("boost"), "F 0.000001F(no_data) 15U(no_data) 20#11mF 26U(cut_short)");
}

TEST(Contact, ReplacesTheWordFromTheFirstReadingOn) {
  Lines lines{opened(), op(5, 2, clamp("POSITIVE", true)), op(30, 3, clamp("POSITIVE", false)),
              closed(s(60), 4)};
  add_samples(lines, "jaw", "clamp.pos.contact", 10, {{0, 5}, {1, 5}});
  EXPECT_EQ(Job(lines).fact("clamp.positive"), "F 5#1T 10#2mF 15#7mT 21U(cut_short)");
  EXPECT_EQ(Job(lines).fact("clamp.negative"), "F");
  const std::string sensor =
      "sensor { id: \"v\" channel: \"clamp.pos.contact\" certificate: \"C\" valid_until: "
      "\"2026-03-01\" }";
  EXPECT_EQ(Job(lines, "", sensor).fact("clamp.positive"), "F 5#1T 30#12F");
  EXPECT_EQ(Job(lines, "", sensor).state->facts.contradictions().size(), 0u);
  // The word says which point the jaw bites: here the lid lead.
  Lines lid{opened(), op(5, 2, clamp("POSITIVE", true, "LID_LEAD")), closed(s(60), 3)};
  add_samples(lid, "jaw", "clamp.pos.contact", 10, {{1, 5}});
  EXPECT_EQ(Job(lid).fact("clamp.positive"), "F 10#2mF 16U(cut_short)");
  EXPECT_EQ(Job(lid).fact("lid.positive"), "F 5#1T 16U(cut_short)");
  // Of the other lead, or taken off, or at the source, a word says nothing of that.
  for (const std::string& word :
       {clamp("NEGATIVE", true, "LID_LEAD"), clamp("POSITIVE", false, "LID_LEAD"),
        std::string(R"("clamp":{"lead":"POSITIVE","on":true,"at":"SOURCE","point":"LID_LEAD"})")}) {
    Lines other{opened(), op(5, 2, word), closed(s(60), 3)};
    add_samples(other, "jaw", "clamp.pos.contact", 10, {{1, 5}});
    EXPECT_EQ(Job(other).state->facts.fact("clamp.positive").at(kTen + s(12)), Tri::kTrue) << word;
  }
}

TEST(Instruments, AreInDateByTheirFirstReading) {
  const double midnight = 14 * 3600;  // The first reading half a second before it, the next after.
  const auto dated = [&](const std::string& channel, double value, const std::string& fact) {
    Lines lines{opened(), closed(s(midnight + 60), 2)};
    add_samples(lines, "box", channel, midnight - 0.5, {{value, 10}});
    return Job(lines, "",
               "sensor { id: \"v\" channel: \"" + channel +
                   "\" certificate: \"C\" valid_until: \"2026-03-02\" }")
        .fact(fact);
  };
  EXPECT_EQ(dated("clamp.volts", 12, "clamp.connected"), "U 50399.5#1mT 50410.5U(cut_short)");
  EXPECT_EQ(dated("clamp.pos.contact", 1, "clamp.positive"), "F 50399.5#1mT 50410.5U(cut_short)");
}

TEST(Contact, ContradictsAWordThatItDoesNotShow) {
  Lines lines{opened(), op(20, 2, clamp("POSITIVE", true)), op(50, 3, clamp("POSITIVE", false)),
              closed(s(60), 4)};
  add_samples(lines, "jaw", "clamp.pos.contact", 10, {{0, 45}});
  Job job(lines);
  const auto found = job.state->facts.contradictions();
  ASSERT_EQ(found.size(), 1u);
  EXPECT_EQ(found[0].fact, "clamp.positive");
  EXPECT_EQ(found[0].word_line,
            job.state->facts.events("clamp.positive.on").empty() ? found[0].word_line : -1);
  EXPECT_EQ(job.state->lines.line(found[0].word_line).stamp.time_us, kTen + s(20));
  EXPECT_EQ(job.state->lines.line(found[0].instrument_line).stamp.time_us, kTen + s(25));
  Lines bad = lines;
  bad[1] =
      line(20, "operator", 2, clamp("POSITIVE", true), R"("clock":"truck","quality":"SUSPECT")");
  EXPECT_EQ(Job(bad).state->facts.contradictions().size(), 0u);
  Lines negative{opened(), op(20, 2, clamp("NEGATIVE", true)), closed(s(60), 3)};
  add_samples(negative, "jaw", "clamp.neg.contact", 10, {{0, 45}});
  Job other(negative);
  ASSERT_EQ(other.state->facts.contradictions().size(), 1u);
  EXPECT_EQ(other.state->facts.contradictions()[0].fact, "clamp.negative");
}

TEST(Contact, ContradictsByAReadingThatHoldsUpToTheWord) {
  Lines lines{opened(), op(20, 2, clamp("POSITIVE", true)), closed(s(60), 3),
              sampled(s(14), "jaw", 1, "clamp.pos.contact", 0)};
  EXPECT_EQ(Job(lines).state->facts.contradictions().size(), 1u);  // It holds to 16 s, 4 s before.
  lines.back() = sampled(s(12.999999), "jaw", 1, "clamp.pos.contact", 0);
  EXPECT_EQ(Job(lines).state->facts.contradictions().size(), 0u);
}

TEST(Line, IsTautByThePullUntilSomebodySaysHowItIs) {
  Lines lines{opened(), closed(s(60), 2)};
  add_samples(lines, "line", "line.pull", 10, {{60, 3}, {500, 5}, {60, 20}});
  EXPECT_EQ(Job(lines).fact("line.taut"), "F 10#1mF 13#4mT 18#9mF 42U(cut_short)");
  EXPECT_EQ(Job(lines).fact("line.pulling"), "U 10#1mF 13#4mT 18#9mF 42U(cut_short)");
  Lines words = lines;
  words[1] = closed(s(60), 3);
  words.push_back(op(16, 2, R"("line":{"state":"TAUT"})"));
  EXPECT_EQ(Job(words).fact("line.taut"), "F 10#1mF 13#4mT");
  words.back() = op(15, 2, R"("line":{"state":"SLACK"})");
  EXPECT_EQ(Job(words).fact("line.taut"), "F 10#1mF 13#4mT 15#7F");
  Lines none{opened(), op(16, 2, R"("line":{"state":"HOLDING"})"), closed(s(60), 3)};
  EXPECT_EQ(Job(none).fact("line.taut"), "F 16#1T");
  EXPECT_EQ(Job(none).fact("line.holding"), "F 16#1T");
  // Under 500 N it is no pull that tells of a taut line, though one that pulls.
  Lines low{opened(), closed(s(60), 2)};
  add_samples(low, "line", "line.pull", 10, {{499, 5}, {60, 5}});
  EXPECT_EQ(Job(low).state->facts.fact("line.taut").at(kTen + s(12)), Tri::kFalse);
  EXPECT_EQ(Job(low).state->facts.fact("line.pulling").at(kTen + s(12)), Tri::kTrue);
  Lines weak{opened(), closed(s(60), 2)};
  add_samples(weak, "line", "line.pull", 10, {{299, 5}, {60, 5}});
  EXPECT_EQ(Job(weak).state->facts.fact("line.pulling").at(kTen + s(12)), Tri::kFalse);
  // Taut once it lasts 2 s, pulling once it lasts half a second.
  const auto short_pull = [](double length) {
    Lines some{opened(),
               sampled(s(10), "line", 1, "line.pull", 60),
               sampled(s(12), "line", 2, "line.pull", 600),
               sampled(s(12 + length), "line", 3, "line.pull", 200),
               sampled(s(16), "line", 4, "line.pull", 200),
               closed(s(60), 2)};
    Job job(some);
    return std::pair(job.state->facts.fact("line.taut").at(kTen + s(12.2)),
                     job.state->facts.fact("line.pulling").at(kTen + s(12.2)));
  };
  EXPECT_EQ(short_pull(2), std::pair(Tri::kTrue, Tri::kTrue));
  EXPECT_EQ(short_pull(1.999999), std::pair(Tri::kFalse, Tri::kTrue));
  EXPECT_EQ(short_pull(0.5), std::pair(Tri::kFalse, Tri::kTrue));
  EXPECT_EQ(short_pull(0.499999), std::pair(Tri::kFalse, Tri::kFalse));
}

TEST(Line, HoldsWhereAnInstrumentShowsIt) {
  // Without both of pull and rope there is nothing but the word.
  Lines pull{opened(), op(5, 2, kNote), closed(s(60), 3)};
  add_samples(pull, "line", "line.pull", 10, {{2000, 40}});
  EXPECT_EQ(Job(pull).fact("line.holding"), "F");
  Lines both = pull;
  add_samples(both, "rope", "line.out", 9.5, {{20, 40}});
  EXPECT_EQ(Job(both).fact("line.holding"), "U 10#3mT 54U(cut_short)");
  Lines said_too = both;
  said_too[1] = op(5, 2, R"("line":{"state":"TAUT"})");
  EXPECT_EQ(Job(said_too).fact("line.holding"), "F 5#1F");
}

TEST(Motion, OfDeckAndTruckIsSaidOrMeasured) {
  const auto tilt = [](double second, uint32_t seq, double degrees) {
    return line(second, "deck", seq, fmt::format(R"("deck":{{"tiltDeg":{}}})", degrees));
  };
  Job one({opened(), tilt(5, 1, 0), closed(s(60), 2)});
  EXPECT_EQ(one.fact("deck.moving"), "U");
  Job two({opened(), tilt(5, 1, 0), tilt(7, 2, 3), tilt(9, 3, 3), closed(s(60), 2)});
  EXPECT_EQ(two.fact("deck.moving"), "U 5#1mT 7#2mF");
  Job words({opened(), tilt(5, 1, 0), tilt(7, 2, 3), op(20, 2, R"("deck":{"moving":true})"),
             closed(s(60), 3)});
  EXPECT_EQ(words.fact("deck.moving"), "U 20#3T");
  const auto fix = [](double second, uint32_t seq, double mps) {
    return line(
        second, "gps.truck", seq,
        fmt::format(
            R"("fix":{{"latDeg":44,"lonDeg":-30,"speedMps":{},"hSdM":2,"speedSdMps":0.01,"mode":3}})",
            mps));
  };
  Job truck({opened(), fix(5, 1, 0), fix(6, 2, 5), fix(7, 3, 0), closed(s(8), 2)});
  EXPECT_EQ(truck.fact("truck.moving"), "U 5#1mF 6#2mT 7#3mF");
  Job said_truck({opened(), fix(5, 1, 5), op(6, 2, moving(false)), closed(s(8), 3)});
  EXPECT_EQ(said_truck.fact("truck.moving"), "U 6#2F");
  EXPECT_EQ(truck.state->facts.sources("truck.moving.on"),
            (std::set<std::string>{"gps.truck", "operator"}));
}

TEST(Motion, OfTheCarByRopeOrTag) {
  Lines rope{opened(), closed(s(60), 2)};
  add_samples(rope, "line", "line.pull", 10, {{60, 3}, {2000, 10}, {60, 5}});
  Lines tagged = rope;
  add_samples(rope, "rope", "line.out", 10, {{20, 5}, {19, 13}});
  EXPECT_EQ(Job(rope).state->facts.fact("rolling").at(kTen + s(14)), Tri::kTrue);
  EXPECT_EQ(Job(tagged).state->facts.fact("rolling").at(kTen + s(14)), Tri::kFalse);
  const auto fix = [](double second, uint32_t seq, double lat) {
    return line(
        second, "gps.tag", seq,
        fmt::format(R"("fix":{{"latDeg":{},"lonDeg":-30,"speedMps":1,"hSdM":0.1,"mode":3}})", lat));
  };
  tagged.push_back(fix(14, 1, 44));
  tagged.push_back(fix(18, 2, 44.0001));  // Eleven metres.
  EXPECT_EQ(Job(tagged).state->facts.fact("rolling").at(kTen + s(14)), Tri::kTrue);
  tagged.back() = fix(18, 2, 44);
  EXPECT_EQ(Job(tagged).state->facts.fact("rolling").at(kTen + s(14)), Tri::kUnknown);
  Lines between =
      rope;  // The rope was read half a second before the pull began, and then already had moved.
  std::erase_if(between, [](const v1::Observation& one) { return one.source() == "rope"; });
  add_samples(between, "rope", "line.out", 10.5, {{20, 3}, {19, 15}});
  EXPECT_EQ(Job(between).state->facts.fact("rolling").at(kTen + s(14)), Tri::kTrue);
  rope.push_back(fix(14, 1, 44));
  rope.push_back(fix(18, 2, 44));
  EXPECT_EQ(Job(rope).state->facts.fact("rolling").at(kTen + s(14)),
            Tri::kTrue);  // Where there is a rope, the tag is not asked.
  Lines moving_too = rope;
  moving_too.push_back(line(12, "gps.truck", 1, moving(true)));
  EXPECT_EQ(Job(moving_too).state->facts.fact("rolling").at(kTen + s(14)), Tri::kFalse);
}

}  // namespace
}  // namespace fairlead::judge
