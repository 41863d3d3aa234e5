// Quantities from readings, files and words (vocabulary.md 3): values and noise in stored units,
// holes, gaps, what limits are.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "tests/unit/judge/facts/facts_kit.h"

namespace fairlead::judge {
namespace {

std::string of(Job& job, const std::string& name, int64_t hole_us = 0, int64_t bin_us = 0) {
  return told(job.state->quantities.series(name, hole_us, bin_us));
}
std::string after_last(Job& job, const std::string& name) {
  return word(job.state->quantities.series(name, 0, 0).after_last);
}
std::string at(Job& job, const std::string& name, int64_t us) {
  return told(job.state->quantities.limit_at(name, kTen + us));
}

v1::Observation tilt(double second, const std::string& source, uint32_t seq, double degrees,
                     const std::string& more = R"("clock":"truck")") {
  return said(s(second), source, seq, fmt::format(R"("deck":{{"tiltDeg":{}}})", degrees), more);
}
v1::Observation pull(double second, uint32_t seq, double newtons,
                     const std::string& source = "line") {
  return sampled(s(second), source, seq, "line.pull", newtons);
}
v1::Observation out(double second, uint32_t seq, double metres,
                    const std::string& source = "line") {
  return sampled(s(second), source, seq, "line.out", metres);
}
v1::Observation fix(double second, const std::string& source, uint32_t seq, double mps,
                    const std::string& more = "", int mode = 3) {
  return said(
      s(second), source, seq,
      fmt::format(R"("fix":{{"latDeg":44,"lonDeg":-30,"speedMps":{},"hSdM":2,"mode":{}{}}})", mps,
                  mode, more));
}
v1::Observation found(double second, uint32_t seq, const std::string& surface,
                      const std::string& more = R"("clock":"truck")") {
  return said(
      s(second), "operator", seq,
      fmt::format(
          R"("found":{{"rolls":"YES","lockedWheels":[],"flatTyres":[],"power":"NONE","keys":true,"fluids":false,"airbags":false,)"
          R"("movedByOthersBefore":false,"place":"ROADSIDE","surface":"{}"}})",
          surface),
      more);
}

TEST(Parties, HaveTheMassOfTheOpeningOrOfTheFile) {
  const std::string car =
      "vehicle { id: \"car\" mass: \"1500 kg\" mass_sd: \"20 kg\" }\ntruck { id: \"truck-1\" }\n";
  const Job file({opened()}, "", car);
  EXPECT_EQ(told(file.state->parties.mass_g), "1467100 1500000 1532900");  // 1.645 of 20 kg.
  EXPECT_EQ(file.state->parties.mass_origin, "mass of the vehicle file");
  EXPECT_EQ(file.state->parties.truck_id, "truck-1");
  EXPECT_NE(file.state->parties.truck, nullptr);
  const Job words({opened(0, R"(,"massKg":1600.0005,"massSdKg":0.001)")}, "", car);
  EXPECT_EQ(told(words.state->parties.mass_g),
            "1599999 1600001 1600003");  // Half a gram up; 1.645 g are two.
  EXPECT_EQ(words.state->parties.mass_origin, "mass as opened");
  EXPECT_EQ(told(Job({opened(0, R"(,"massKg":1600)")}, "", car).state->parties.mass_g),
            "1600000 1600000 1600000");
  EXPECT_EQ(
      told(
          Job({opened()}, "", "vehicle { id: \"car\" mass: \"1500 kg\" }\n").state->parties.mass_g),
      "1500000 1500000 1500000");
  EXPECT_EQ(told(Job({opened()}, "", "vehicle { id: \"car\" }\n").state->parties.mass_g), "- - -");
  EXPECT_EQ(told(Job({opened()}).state->parties.mass_g), "- - -");
  EXPECT_EQ(told(Job({pull(1, 1, 5)}, "", car).state->parties.mass_g), "- - -");
}

TEST(Quantities, HoldAReadingUpToTheNextOrTheLongestHole) {
  // s.d. 1 % + 20 N (vocabulary.md 3), in thousandths.
  Job job(
      {opened(), pull(1, 1, 2000.4), pull(3.5, 2, 2000.5), pull(20, 3, -1500), closed(s(60), 2)});
  EXPECT_EQ(of(job, "line.pull"),
            "1-3.5 2000 sd 40000#1; 3.5-8.5 2001 sd 40010#2; 20-25 -1500 sd 35000#3;");
  EXPECT_EQ(of(job, "line.pull", s(2)),
            "1-3 2000 sd 40000#1; 3.5-5.5 2001 sd 40010#2; 20-22 -1500 sd 35000#3;");
  const Series& series = job.state->quantities.series("line.pull", 0, 0);
  EXPECT_EQ(series.tau_us, 200'000);
  EXPECT_TRUE(series.named);
  EXPECT_FALSE(series.sd_of_mean);
  EXPECT_EQ(series.origin, "line");
  EXPECT_EQ(after_last(job, "line.pull"), "cut_short");
  EXPECT_EQ(of(job, "clamp.volts"), "");
  EXPECT_FALSE(job.state->quantities.series("clamp.volts", 0, 0).named);
  EXPECT_EQ(of(job, "no.such"), "");
  EXPECT_EQ(job.state->quantities.sources("line.pull"), std::set<std::string>{"line"});
}

TEST(Quantities, TakeTheLaterOfTwoReadingsAtOneInstant) {
  Job job({opened(), pull(1, 1, 100), pull(1, 2, 200), pull(2, 1, 300, "b"), pull(2, 3, 400),
           closed(s(60), 2)});
  EXPECT_EQ(of(job, "line.pull"), "1-2 200 sd 22000#2; 2-7 400 sd 24000#4;");
  EXPECT_EQ(job.state->quantities.series("line.pull", 0, 0).origin, "line");
  EXPECT_EQ(job.state->quantities.sources("line.pull"), (std::set<std::string>{"b", "line"}));
}

TEST(Quantities, KnowNothingFromABadReadingOn) {
  Job job({opened(), pull(1, 1, 100),
           said(s(2), "line", 2, R"("sample":{"signal":"line.pull","value":9})",
                R"("clock":"truck","quality":"OVERLOAD")"),
           pull(3, 3, 100), closed(s(60), 2)});
  EXPECT_EQ(of(job, "line.pull"), "1-2 100 sd 21000#1; 3-8 100 sd 21000#3;");
  Job tag({opened(), fix(1, "gps.truck", 1, 1), fix(2, "gps.truck", 2, 1, "", 1),
           fix(3, "gps.truck", 3, 1, "", 2), closed(s(60), 2)});
  EXPECT_EQ(of(tag, "truck.speed"), "1-2 1000 sd 200000#1; 3-6 1000 sd 200000#3;");
  Job none({opened(),
            said(s(2), "b", 2, R"("sample":{"signal":"line.pull","value":9})",
                 R"("clock":"truck","quality":"BROKEN")"),
            closed(s(60), 2)});
  EXPECT_EQ(of(none, "line.pull"), "");
  EXPECT_TRUE(none.state->quantities.series("line.pull", 0, 0).named);
  EXPECT_EQ(none.state->quantities.series("line.pull", 0, 0).origin, "");
}

TEST(Quantities, TakeTheirNoiseFromTheSensorOrTheFix) {
  const auto with = [](const std::string& sensor) {
    Job job({opened(), pull(1, 1, 2000), closed(s(60), 2)}, "", sensor);
    return of(job, "line.pull") +
           fmt::format(" {}", job.state->quantities.series("line.pull", 0, 0).tau_us);
  };
  const std::string head =
      "sensor { id: \"c\" channel: \"line.pull\" certificate: \"C\" valid_until: \"2027-01-01\" ";
  EXPECT_EQ(with(head + "sd: \"30 N\" tau: \"1 s\" }"), "1-6 2000 sd 30000#1; 1000000");
  EXPECT_EQ(with(head + "sd: \"2 %\" }"), "1-6 2000 sd 40000#1; 200000");
  Job odd({opened(), pull(1, 1, 2001), closed(s(60), 2)}, "", head + "sd: \"0.05 %\" }");
  EXPECT_EQ(of(odd, "line.pull"), "1-6 2001 sd 1001#1;");  // 1000.5, outward.
  EXPECT_EQ(with(head + "sd: \"0 N\" }"), "1-6 2000#1; 200000");
  EXPECT_EQ(with(head + "tau: \"1 s\" }"), "1-6 2000 sd 40000#1; 1000000");
  EXPECT_EQ(with(head + "sd: \"30 N\" truck: \"truck-2\" }"), "1-6 2000 sd 40000#1; 200000");
  const auto speed = [](const std::string& more, const std::string& sensor) {
    Job job({opened(), fix(1, "gps.truck", 1, 1, more), closed(s(60), 2)}, "", sensor);
    return of(job, "truck.speed");
  };
  EXPECT_EQ(speed("", ""), "1-4 1000 sd 200000#1;");
  EXPECT_EQ(speed(R"(,"speedSdMps":0.1)", ""), "1-4 1000 sd 100000#1;");
  const std::string of_speed =
      "sensor { id: \"c\" channel: \"truck.speed\" certificate: \"C\" valid_until: \"2027-01-01\" "
      "sd: \"50 mm/s\" }";
  EXPECT_EQ(speed(R"(,"speedSdMps":0.1)", of_speed), "1-4 1000 sd 50000#1;");
}

TEST(Quantities, KnowNothingInAGap) {
  Job job({opened(), pull(1, 1, 100), pull(3, 2, 100), line(4, "line", 3, gap("line")),
           pull(6, 4, 100), pull(9, 5, 100), closed(s(60), 2)});
  EXPECT_EQ(
      of(job, "line.pull"),
      "1-3 100 sd 21000#1; 3-3.000001 100 sd 21000#2; 6-9 100 sd 21000#4; 9-14 100 sd 21000#5;");
  Job channel({opened(), pull(1, 1, 100), out(2, 2, 5), line(4, "line", 3, gap("line.pull")),
               pull(6, 4, 100), closed(s(60), 2)});
  EXPECT_EQ(of(channel, "line.pull"), "1-1.000001 100 sd 21000#1; 6-11 100 sd 21000#4;");
  EXPECT_EQ(of(channel, "line.out"), "2-7 5000 sd 50000#2;");
  // One number missing: the reading holds; another source's gap is none of its own.
  Job missing(
      {opened(), pull(1, 1, 100), pull(3, 3, 100), line(4, "b", 1, gap("b")), closed(s(60), 2)});
  EXPECT_EQ(of(missing, "line.pull"), "1-3 100 sd 21000#1; 3-8 100 sd 21000#2;");
  // What overlaps a gap: by the instrument's other readings it began earlier.
  Job other({opened(), pull(1, 1, 100), pull(2, 1, 300, "b"), line(3, "line", 2, gap("line")),
             pull(4, 2, 300, "b"), pull(6, 3, 100), closed(s(60), 2)});
  EXPECT_EQ(of(other, "line.pull"), "1-1.000001 100 sd 21000#1; 6-11 100 sd 21000#5;");
  EXPECT_EQ(after_last(other, "line.pull"), "cut_short");
  Job lasting({opened(), pull(1, 1, 100), line(4, "line", 2, gap("line")), closed(s(60), 2)});
  EXPECT_EQ(of(lasting, "line.pull"), "1-1.000001 100 sd 21000#1;");
  EXPECT_EQ(after_last(lasting, "line.pull"), "cut_short");
  Job disbelieved({opened(), pull(1, 1, 100), pull(2, 2, 100), pull(3, 2, 100),
                   pull(1.5, 1, 7, "b"), closed(s(60), 2)});
  EXPECT_EQ(of(disbelieved, "line.pull"), "1-1.5 100 sd 21000#1; 1.5-2.000001 7 sd 20070#2;");
  EXPECT_EQ(after_last(disbelieved, "line.pull"), "sources_disagree");
  Job fixes({opened(), fix(1, "gps.truck", 1, 1), line(2, "gps.truck", 2, gap("fix")),
             fix(3, "gps.truck", 3, 1), closed(s(60), 2)});
  EXPECT_EQ(of(fixes, "truck.speed"), "1-1.000001 1000 sd 200000#1; 3-6 1000 sd 200000#3;");
  // Exactly from the gap's end, or up to its beginning.
  Job edges({opened(), pull(1, 1, 100), pull(2, 1, 5, "b"), line(2, "b", 2, gap("b")),
             pull(4, 3, 6, "b"), closed(s(60), 2)});
  EXPECT_EQ(of(edges, "line.pull"),
            "1-2 100 sd 21000#1; 2-2.000001 5 sd 20050#2; 4-9 6 sd 20060#4;");
}

TEST(Quantities, HoldAWordUntilTheNextUnlessALineIsLost) {
  Job words({opened(), tilt(1, "operator", 2, 5), tilt(9, "operator", 3, 6), closed(s(60), 4)});
  EXPECT_EQ(of(words, "deck.tilt"), "1-9 5000 sd 2000000#1; 9-inf 6000 sd 2000000#2;");
  Job lost({opened(), tilt(1, "operator", 2, 5), tilt(9, "operator", 4, 6),
            tilt(20, "operator", 5, 7), closed(s(60), 6)});
  EXPECT_EQ(of(lost, "deck.tilt"),
            "1-1.000001 5000 sd 2000000#1; 9-20 6000 sd 2000000#2; 20-inf 7000 sd 2000000#3;");
  EXPECT_EQ(after_last(lost, "deck.tilt"), "cut_short");
  // Said before the lost line and not since: nobody knows.
  Job since({opened(), tilt(1, "operator", 2, 5), said(s(2), "desk", 1, R"("arrived":{})"),
             said(s(4), "desk", 3, R"("arrived":{})"), closed(s(60), 3)});
  EXPECT_EQ(of(since, "deck.tilt"), "1-2.000001 5000 sd 2000000#1;");
  EXPECT_EQ(after_last(since, "deck.tilt"), "no_data");
  Job again({opened(), tilt(1, "operator", 2, 5), said(s(2), "desk", 1, R"("arrived":{})"),
             tilt(3, "operator", 3, 6), said(s(4), "desk", 3, R"("arrived":{})"),
             tilt(4, "operator", 4, 7), closed(s(60), 5)});
  EXPECT_EQ(of(again, "deck.tilt"), "1-2.000001 5000 sd 2000000#1; 4-inf 7000 sd 2000000#5;");
  EXPECT_EQ(after_last(again, "deck.tilt"), "cut_short");
  // An instrument's reading holds; a lost word is no reading.
  Job measured({opened(), tilt(1, "deck", 1, 5), said(s(2), "desk", 1, R"("arrived":{})"),
                said(s(4), "desk", 3, R"("arrived":{})"), tilt(9, "operator", 2, 6),
                closed(s(60), 3)});
  EXPECT_EQ(of(measured, "deck.tilt"), "1-9 5000 sd 2000000#1; 9-inf 6000 sd 2000000#4;");
  // Of a gap that a person states in one channel, another is no matter.
  Job stated({opened(), tilt(1, "operator", 2, 5), line(2, "operator", 3, gap("line.pull")),
              tilt(9, "operator", 4, 6), closed(s(60), 5)});
  EXPECT_EQ(of(stated, "deck.tilt"), "1-9 5000 sd 2000000#1; 9-inf 6000 sd 2000000#3;");
}

TEST(Quantities, ReadTheSpeedFromTheRope) {
  // Change between neighbouring readings; s.d. of two readings over the length between: 50 mm x
  // sqrt 2 a second.
  Job job({opened(), out(1, 1, 40), out(2, 2, 39), out(4, 3, 40), out(9.5, 4, 40),
           out(10.5, 5, 39.9999), closed(s(60), 2)});
  EXPECT_EQ(of(job, "vehicle.speed"),
            "1-2 -1000 sd 70711#2; 2-4 500 sd 35356#3; 9.5-10.5 0 sd 70711#5;");
  EXPECT_EQ(of(job, "vehicle.speed", s(1)), "1-2 -1000 sd 70711#2; 9.5-10.5 0 sd 70711#5;");
  EXPECT_EQ(of(job, "vehicle.speed", s(3), s(2)),
            "1-2 -1000 sd 35356#2; 2-4 500 sd 35356#3; 9.5-10.5 0 sd 35356#5;");
  const Series& series = job.state->quantities.series("vehicle.speed", 0, 0);
  EXPECT_TRUE(series.named);
  EXPECT_TRUE(series.sd_of_mean);
  EXPECT_EQ(series.tau_us, 1'500'000);
  EXPECT_EQ(series.origin, "rope counter");
  EXPECT_EQ(job.state->quantities.sources("vehicle.speed"), std::set<std::string>{"line"});
  EXPECT_EQ(job.state->quantities.sources("vehicle.rolled"), std::set<std::string>{"line"});
  // Rounded to the nearest, half up.
  Job half({opened(), out(1, 1, 40), out(3, 2, 40.001), out(5, 3, 40), closed(s(60), 2)});
  EXPECT_EQ(of(half, "vehicle.speed"), "1-3 1 sd 35356#2; 3-5 0 sd 35356#3;");
  const std::string sensor =
      "sensor { id: \"c\" channel: \"vehicle.speed\" certificate: \"C\" valid_until: "
      "\"2027-01-01\" sd: \"1 % + 20 mm/s\" }";
  Job known({opened(), out(1, 1, 40), out(2, 2, 39), closed(s(60), 2)}, "", sensor);
  EXPECT_EQ(of(known, "vehicle.speed"), "1-2 -1000 sd 30000#2;");
  EXPECT_FALSE(known.state->quantities.series("vehicle.speed", 0, 0).sd_of_mean);
  Job odd({opened(), out(1, 1, 40), out(2, 2, 38.999), closed(s(60), 2)}, "",
          "sensor { id: \"c\" channel: \"vehicle.speed\" certificate: \"C\" valid_until: "
          "\"2027-01-01\" sd: \"0.05 %\" }");
  EXPECT_EQ(of(odd, "vehicle.speed"), "1-2 -1001 sd 501#2;");
  // A gap that no reading ends, and one of a source that does not read the rope.
  Job cut(
      {opened(), out(1, 1, 40), out(2, 2, 39), line(2, "line", 3, gap("line")), closed(s(60), 2)});
  EXPECT_EQ(of(cut, "vehicle.speed"), "1-2 -1000 sd 70711#2;");
  EXPECT_EQ(after_last(cut, "vehicle.speed"), "cut_short");
  Job other({opened(), out(1, 1, 40), out(2, 1, 39, "b"), line(3, "b", 2, gap("b")), out(4, 2, 38),
             out(5, 3, 37), out(6, 3, 36, "b"), out(7, 4, 35), closed(s(60), 2)});
  EXPECT_EQ(of(other, "vehicle.speed"), "1-2 -1000 sd 70711#2; 6-7 -1000 sd 70711#7;");
  // A reading past the longest hole, and a gap.
  Job gapped({opened(), out(1, 1, 40), out(2, 2, 39), line(3, "line", 3, gap("line.out")),
              out(4, 4, 38), out(5, 5, 37), closed(s(60), 2)});
  EXPECT_EQ(of(gapped, "vehicle.speed"), "1-2 -1000 sd 70711#2; 4-5 -1000 sd 70711#5;");
  Job none({opened(),
            said(s(2), "b", 2, R"("sample":{"signal":"line.out","value":9})",
                 R"("clock":"truck","quality":"BROKEN")"),
            closed(s(60), 2)});
  EXPECT_EQ(of(none, "vehicle.speed"), "");
}

TEST(Quantities, ReadTheSpeedAlongTheTagsWay) {
  const auto along = [](double second, uint32_t seq, double mps, double course) {
    return fix(second, "gps.tag", seq, mps,
               fmt::format(R"(,"speedSdMps":0.1,"courseDeg":{})", course));
  };
  // Three north, one back, one 60 deg east: their sum is (0.866, 2.5), 2.6458 long. A component
  // along it is at most what the reading says, that way.
  Job job({opened(), along(1, 1, 1, 0), along(2, 2, 1, 0), along(3, 3, 1, 0), along(4, 4, 1, 180),
           along(5, 5, 1, 60), fix(30, "gps.tag", 6, 1.2), closed(s(60), 2)});
  EXPECT_EQ(
      of(job, "vehicle.speed"),
      "1-2 945 945..1000 sd 100000#1; 2-3 945 945..1000 sd 100000#2; 3-4 945 945..1000 sd "
      "100000#3; "
      "4-5 -945 -1000..-945 sd 100000#4; 5-8 756 756..1000 sd 100000#5; 30-33 1200 sd 200000#6;");
  EXPECT_EQ(job.state->quantities.series("vehicle.speed", 0, 0).tau_us, 1'500'000);
  EXPECT_EQ(job.state->quantities.sources("vehicle.speed"), std::set<std::string>{"gps.tag"});
  EXPECT_EQ(job.state->quantities.sources("vehicle.rolled"), std::set<std::string>{"gps.tag"});
  EXPECT_EQ(job.state->quantities.sources("truck.driven"), std::set<std::string>{});
  // Across the way nothing of it goes along, and all of it may.
  Job across({opened(), along(1, 1, 1, 0), along(2, 2, 1, 0), along(3, 3, 1, 0), along(4, 4, 1, 90),
              along(5, 5, 1, 270), closed(s(60), 2)});
  EXPECT_EQ(of(across, "vehicle.speed"),
            "1-2 1000 sd 100000#1; 2-3 1000 sd 100000#2; 3-4 1000 sd 100000#3; 4-5 0 0..1000 sd "
            "100000#4; 5-8 0 0..1000 sd 100000#5;");
  // One that shows no way is what it says, between others too.
  Job mixed({opened(), fix(0.5, "gps.tag", 1, 0.7), along(1, 2, 1, 0), fix(1.5, "gps.tag", 3, 0.8),
             along(2, 4, 1, 0), along(3, 5, 1, 180), along(4, 6, 1, 0), closed(s(60), 2)});
  EXPECT_EQ(of(mixed, "vehicle.speed"),
            "0.5-1 700 sd 200000#1; 1-1.5 1000 sd 100000#2; 1.5-2 800 sd 200000#3; 2-3 1000 sd "
            "100000#4; 3-4 -1000 sd 100000#5; 4-7 1000 sd 100000#6;");
}

v1::Observation legs(double second, uint32_t seq, double degrees,
                     const std::string& source = "operator") {
  return said(
      s(second), source, seq,
      fmt::format(R"("rigging":{{"on":true,"point":"eye","gear":[],"legsAngleDeg":{}}})", degrees));
}

TEST(Quantities, SplitThePullBetweenTwoLegs) {
  // pull / (2 cos(angle / 2)); s.d. of both: of 3000 N 50 N, of the angle 5 deg.
  Job job({opened(), pull(1, 1, 3000), legs(2, 2, 60), pull(3, 2, 3000), legs(4, 3, 0),
           pull(5, 3, 3000), legs(6, 4, 120), pull(7, 4, 3000), legs(8, 5, 179), pull(9, 5, 3000),
           closed(s(60), 6)});
  EXPECT_EQ(of(job, "line.leg_pull"),
            "3-5 1732 sd 52320#3; 5-7 1500 sd 25001#5; 7-9 3000 sd 232174#7;");
  EXPECT_EQ(of(job, "line.leg_pull", s(1)),
            "3-4 1732 sd 52320#3; 5-6 1500 sd 25001#5; 7-8 3000 sd 232174#7;");
  const Series& series = job.state->quantities.series("line.leg_pull", 0, 0);
  EXPECT_EQ(series.tau_us, 200'000);
  EXPECT_TRUE(series.named);
  EXPECT_EQ(series.origin, "line");
  EXPECT_EQ(job.state->quantities.sources("line.leg_pull"), std::set<std::string>{"line"});
  Job wide({opened(), legs(2, 2, 178.999), pull(3, 1, -100), closed(s(60), 3)});
  EXPECT_EQ(of(wide, "line.leg_pull"), "3-8 -5724 sd 28615575#2;");
  Job none({opened(), legs(2, 2, 60), closed(s(60), 3)});
  EXPECT_EQ(of(none, "line.leg_pull"), "");
  EXPECT_FALSE(none.state->quantities.series("line.leg_pull", 0, 0).named);
}

TEST(Quantities, OfALegEndWhereTheAngleDoes) {
  // The operator's line between is lost: the angle may be another.
  Job lost({opened(), legs(2, 2, 60), pull(1, 1, 3000), pull(2, 2, 3000), pull(3, 3, 3000),
            said(s(4), "operator", 4, R"("arrived":{})"), closed(s(60), 5)});
  EXPECT_EQ(of(lost, "line.leg_pull"), "2-3 1732 sd 52320#2;");
  EXPECT_EQ(after_last(lost, "line.leg_pull"), "no_data");
  Job both({opened(), legs(2, 2, 60), pull(3, 1, 3000), closed(s(60), 3)});
  EXPECT_EQ(after_last(both, "line.leg_pull"), "cut_short");
  Job touching({opened(), legs(2, 2, 60), said(s(2.5), "desk", 1, R"("arrived":{})"),
                said(s(4), "desk", 3, R"("arrived":{})"), pull(1, 1, 3000), pull(2.500001, 2, 3000),
                closed(s(60), 3)});
  EXPECT_EQ(after_last(touching, "line.leg_pull"), "no_data");
}

TEST(Quantities, OfFilesHoldFromLineToLine) {
  Job job({opened(), pull(1, 1, 5), said(s(1), "desk", 1, R"("arrived":{})"), closed(s(4), 2)}, "",
          "vehicle { id: \"car\" mass: \"1500 kg\" mass_sd: \"20 kg\" }\n");
  EXPECT_EQ(of(job, "vehicle.mass"),
            "0-1 1500000 1467100..1532900; 1-4 1500000 1467100..1532900; 4-inf 1500000 "
            "1467100..1532900;");
  EXPECT_TRUE(job.state->quantities.series("vehicle.mass", 0, 0).named);
  EXPECT_EQ(of(job, "line.free_roll"), "");
  EXPECT_EQ(at(job, "vehicle.mass", 0), "1467100 1500000 1532900");
  EXPECT_EQ(job.state->quantities.reach_us("vehicle.mass", 0, 0), 0);
  EXPECT_EQ(job.state->quantities.reach_us("line.pull", 0, 0), 0);
  EXPECT_EQ(job.state->quantities.reach_us("vehicle.speed", 0, 0), 5'000'000);
  Job rope({opened(), out(1, 1, 40), out(2, 2, 39), closed(s(60), 2)});
  EXPECT_EQ(rope.state->quantities.reach_us("vehicle.speed", s(7), 0), s(7));
}

TEST(Quantities, OfTheWinchAndItsGearHoldFromLineToLine) {
  const std::string rig = R"("rigging":{"on":true,"point":"eye","gear":["a"]})";
  Job job({opened(), op(2, 2, rig), closed(s(9), 3)}, "",
          "vehicle { id: \"car\" point { id: \"eye\" kind: TOW_EYE rating: \"8 kN\" } }\n"
          "truck { id: \"truck-1\" winch { line_rating: \"20 kN\" layer { number: 1 pull: \"36 "
          "kN\" length: \"30 m\" } } }\n"
          "gear { id: \"a\" kind: WEBBING wll: \"600 kg\" }\n");
  EXPECT_EQ(of(job, "point.rating"), "2-9 8000; 9-inf 8000;");
  EXPECT_EQ(of(job, "line.rating"), "0-2 20000; 2-9 5884 5883..5884; 9-inf 5884 5883..5884;");
  EXPECT_EQ(of(job, "line.layer"), "0-2 36000; 2-9 36000; 9-inf 36000;");
}

TEST(Quantities, OfTiedownsAreStepsOfTheirSum) {
  const auto strap = [](double second, uint32_t seq, bool on) {
    return said(
        s(second), "operator", seq,
        fmt::format(R"("tiedown":{{"on":{},"gear":"strap","wheel":"LF","path":"ACROSS"}})", on));
  };
  Job job({opened(), strap(1, 2, true), pull(2, 1, 5), strap(5, 3, false), closed(s(9), 4)}, "",
          "gear { id: \"strap\" kind: WEBBING wll: \"600 kg\" in_service: \"2025-01-01\" "
          "inspect_by: \"2027-01-01\" }\n");
  EXPECT_EQ(at(job, "tiedowns.strength", s(1) - 1), "0 0 0");
  EXPECT_EQ(at(job, "tiedowns.strength", s(1)), "600000 600000 600000");
  EXPECT_EQ(at(job, "tiedowns.strength", s(5) - 1), "600000 600000 600000");
  EXPECT_EQ(at(job, "tiedowns.strength", s(5)), "0 0 0");
  EXPECT_EQ(at(job, "tiedowns.count", s(1)), "1 1 1");
  EXPECT_EQ(at(job, "tiedowns.count", s(1) - 1), "0 0 0");
  EXPECT_EQ(of(job, "tiedowns.count"), "0-1 0; 1-2 1; 2-5 1; 5-9 0; 9-inf 0;");
  EXPECT_EQ(of(job, "tiedowns.strength"), "0-1 0; 1-2 600000; 2-5 600000; 5-9 0; 9-inf 0;");
  Job unread({opened(), strap(1, 2, true), closed(s(9), 3)});
  EXPECT_EQ(of(unread, "tiedowns.strength"), "0-1 0; 1-9 0 0.." + std::to_string(kForever) +
                                                 "; 9-inf 0 0.." + std::to_string(kForever) + ";");
}

TEST(Limits, AreWhatIsReadAtThatInstant) {
  Job job({opened(), pull(1, 1, 2000), closed(s(60), 2)});
  EXPECT_EQ(at(job, "line.pull", s(1) - 1), "- - -");
  EXPECT_EQ(at(job, "line.pull", s(1)), "1934 2000 2066");  // 1.645 x 40 N = 65.8.
  EXPECT_EQ(at(job, "line.pull", s(6) - 1), "1934 2000 2066");
  EXPECT_EQ(at(job, "line.pull", s(6)), "- - -");
  EXPECT_EQ(at(job, "no.such", s(1)), "- - -");
}

const std::string kExactTilt =
    "sensor { id: \"t\" channel: \"deck.tilt\" certificate: \"C\" valid_until: \"2027-01-01\" sd: "
    "\"0 deg\" }\n";

TEST(Limits, OfAFreelyRollingCarComeFromMassAndTilt) {
  // mass x g x (sin tilt + 0.15 cos tilt), worked out with another program: 1500 kg level 2206.496
  // N; at 10 deg 4727.335 N, with
  // +-32.9 kg and +-3.29 deg from 3824.393 to 5650.199.
  const auto roll = [](double degrees, const std::string& files) {
    Job job({opened(), tilt(1, "deck", 1, degrees), closed(s(60), 2)}, "", files);
    return at(job, "line.free_roll", s(1));
  };
  const std::string exact = "vehicle { id: \"car\" mass: \"1500 kg\" }\n",
                    spread = "vehicle { id: \"car\" mass: \"1500 kg\" mass_sd: \"20 kg\" }\n";
  EXPECT_EQ(roll(0, exact + kExactTilt), "2206 2206 2207");
  EXPECT_EQ(roll(10, spread), "3824 4727 5651");
  EXPECT_EQ(roll(79, exact), "14799 14861 14870");  // No steeper than 80 deg.
  EXPECT_EQ(roll(-79, exact), "-14104 -14019 -13710");
  EXPECT_EQ(roll(85, exact + kExactTilt), "14869 14870 14870");
  EXPECT_EQ(roll(10, ""), "- - -");
  Job job({opened(), tilt(1, "deck", 1, 10), closed(s(60), 2)}, "", exact);
  EXPECT_EQ(at(job, "line.free_roll", s(1) - 1), "- - -");
}

TEST(Limits, OnIceHaveNoLowerEnd) {
  Job job({opened(), tilt(0.5, "deck", 1, 0), found(2, 2, "ICE"), line(3, "desk", 1, kNote),
           found(4, 3, "DRY"), found(6, 4, "SNOW"), found(8, 5, "WET"),
           found(9, 6, "ICE", R"("clock":"truck","quality":"SUSPECT")"), closed(s(60), 7)},
          "", "vehicle { id: \"car\" mass: \"1500 kg\" }\n" + kExactTilt);
  const auto slips = [&](double second) {
    return job.state->quantities.slippery(kTen + s(second));
  };
  EXPECT_FALSE(slips(1.999999));
  EXPECT_TRUE(slips(2));
  EXPECT_TRUE(slips(3.999999));
  EXPECT_FALSE(slips(4));
  EXPECT_TRUE(slips(6));
  EXPECT_FALSE(slips(8));
  EXPECT_FALSE(slips(30));
  EXPECT_EQ(at(job, "line.free_roll", s(2)), "- 2206 2207");
  EXPECT_EQ(at(job, "line.free_roll", s(4)), "2206 2206 2207");
  EXPECT_EQ(of(job, "line.free_roll"),
            "0.5-2 2206 2206..2207; 4-6 2206 2206..2207; 8-9 2206 2206..2207; 9-60 2206 "
            "2206..2207; 60-inf 2206 2206..2207;");
}

TEST(Limits, OfTheWinchLayerInUse) {
  const auto layer = [](const std::string& winch, const std::vector<double>& metres,
                        const std::string& sd = "0 mm") {
    Lines lines{opened(), closed(s(60), 2)};
    for (const double one : metres) lines.push_back(out(1, 1, one));
    Job job(lines, "",
            "sensor { id: \"o\" channel: \"line.out\" certificate: \"C\" valid_until: "
            "\"2027-01-01\" sd: \"" +
                sd + "\" }\n" + winch);
    return at(job, "line.layer", s(1));
  };
  const std::string layers =
      "layer { number: 1 pull: \"36 kN\" length: \"8 m\" } layer { number: 2 pull: \"30 kN\" "
      "length: \"17 m\" } "
      "layer { number: 3 pull: \"26 kN\" length: \"28 m\" }";
  const std::string truck = "truck { id: \"truck-1\" winch { " + layers + " } }",
                    roped =
                        "truck { id: \"truck-1\" winch { " + layers + " rope_length: \"25 m\" } }";
  EXPECT_EQ(layer(truck, {20}), "36000 36000 36000");  // 8 m left: the first layer.
  EXPECT_EQ(layer(truck, {19.999}), "30000 30000 30000");
  EXPECT_EQ(layer(truck, {11}), "30000 30000 30000");
  EXPECT_EQ(layer(truck, {10.999}), "26000 26000 26000");
  EXPECT_EQ(layer(truck, {-1}), "26000 26000 26000");
  EXPECT_EQ(layer(roped, {17}), "36000 36000 36000");
  EXPECT_EQ(layer(roped, {16.999}), "30000 30000 30000");
  EXPECT_EQ(layer(truck, {20.03}, "50 mm"), "30000 36000 36000");  // +- 83 mm.
  EXPECT_EQ(layer(truck, {19.95}, "50 mm"), "30000 30000 36000");
  EXPECT_EQ(layer(truck, {}), "26000 26000 36000");
  Job later({opened(), out(1, 1, 20), closed(s(60), 2)}, "",
            "sensor { id: \"o\" channel: \"line.out\" certificate: \"C\" valid_until: "
            "\"2027-01-01\" sd: \"0 mm\" }\n" +
                truck);
  EXPECT_EQ(at(later, "line.layer", s(6) - 1), "36000 36000 36000");
  EXPECT_EQ(at(later, "line.layer", s(6)), "26000 26000 36000");
  EXPECT_EQ(layer("truck { id: \"truck-1\" winch { line_rating: \"9 kN\" } }", {5}), "- - -");
  EXPECT_EQ(layer("", {5}), "- - -");
}

TEST(Quantities, AreCalibratedWhileASensorIsInDate) {
  const int64_t day = 86'400'000'000, ten = 36'000'000'000;  // 2026-03-02 is kTen less ten hours.
  const auto in_date = [](const std::string& sensors, int64_t us) {
    return Job({opened()}, "", sensors).state->quantities.calibrated("line.pull", us);
  };
  const std::string until =
      "sensor { id: \"a\" channel: \"line.pull\" certificate: \"C\" valid_until: \"2026-03-02\" ";
  EXPECT_TRUE(in_date("", kTen));
  EXPECT_TRUE(in_date(until + "}", kTen));
  EXPECT_TRUE(in_date(until + "}", kTen - ten + day - 1));
  EXPECT_FALSE(in_date(until + "}", kTen - ten + day));
  EXPECT_TRUE(in_date(until + "valid_from: \"2026-03-02\" }", kTen - ten));
  EXPECT_FALSE(in_date(until + "valid_from: \"2026-03-02\" }", kTen - ten - 1));
  EXPECT_TRUE(in_date(until + "truck: \"truck-2\" }", kTen + 2 * day));
  EXPECT_FALSE(in_date(until + "truck: \"truck-1\" }", kTen + 2 * day));
  const std::string later =
      "sensor { id: \"b\" channel: \"line.pull\" certificate: \"C\" valid_from: \"2026-03-04\" "
      "valid_until: \"2026-04-02\" }";
  EXPECT_TRUE(in_date(until + "}" + later, kTen));
  EXPECT_FALSE(in_date(until + "}" + later, kTen + day));
  EXPECT_TRUE(in_date(until + "}" + later, kTen + 2 * day));
}

}  // namespace
}  // namespace fairlead::judge
