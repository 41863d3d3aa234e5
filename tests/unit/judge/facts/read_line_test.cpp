// What is read of one line: its time, names as numbers, its reading, what it says without when it
// came in; and the facts and events it tells by itself (vocabulary.md 2).
#include "daemon/judge/read_line.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "daemon/judge/line_facts.h"
#include "daemon/record/merkle.h"
#include "tests/unit/judge/facts/facts_kit.h"

namespace fairlead::judge {
namespace {

TEST(ReadLine, TellsTimeNamesAndState) {
  LineReader reader;
  const v1::Observation line = said(1'500'001, "operator", 7, R"("arrived":{})",
                                    R"("clock":"truck","timeUncertaintyMs":0.0015)");
  const ReadLine read = reader.read(line);
  EXPECT_EQ(read.observation, &line);
  EXPECT_EQ(read.time_us, kTen + 1'500'001);
  EXPECT_EQ(read.stated_u_us, 2);  // 1.5 us, up.
  EXPECT_EQ(read.seq, 7);
  EXPECT_EQ(read.kind, v1::Observation::kArrived);
  EXPECT_EQ(reader.sources.name(read.source), "operator");
  EXPECT_EQ(reader.clocks.name(read.clock), "truck");
  EXPECT_EQ(reader.jobs.name(read.job), "j");
  EXPECT_EQ(read.quantity, kNoName);
  EXPECT_TRUE(read.good);
  v1::Observation odd = line;
  odd.set_time("some time");
  odd.clear_time_uncertainty_ms();
  EXPECT_EQ(reader.read(odd).time_us, 0);
  EXPECT_EQ(reader.read(odd).stated_u_us, -1);
  EXPECT_EQ(reader.read(said(0, "a", 1, R"("arrived":{})", R"("timeUncertaintyMs":0)")).stated_u_us,
            0);
  EXPECT_EQ(reader.read(said(0, "a", 1, R"("arrived":{})", R"("timeUncertaintyMs":2)")).stated_u_us,
            2000);
  for (const char* word : {"SUSPECT", "OVERLOAD", "BROKEN"})
    EXPECT_FALSE(
        reader.read(said(0, "a", 1, R"("arrived":{})", fmt::format(R"("quality":"{}")", word)))
            .good);
  EXPECT_TRUE(reader.read(said(0, "a", 1, R"("arrived":{})", R"("quality":"GOOD")")).good);
}

TEST(ReadLine, GivesASourceThatNamesNoClockOneOfItsOwn) {
  LineReader reader;
  const auto clock = [&](const char* source, const char* more) {
    return reader.clocks.name(reader.read(said(0, source, 1, R"("alive":{})", more)).clock);
  };
  EXPECT_EQ(clock("b", R"("clock":"truck")"), "truck");
  EXPECT_EQ(clock("a", ""), "source a");
  EXPECT_EQ(clock("b", ""), "source b");
  EXPECT_EQ(clock("a", ""), "source a");
  EXPECT_EQ(clock("a", R"("clock":"truck")"), "truck");
  EXPECT_EQ(clock("a", ""), "source a");
  EXPECT_EQ(reader.clocks.size(), 3);
}

TEST(ReadLine, HashesWhatALineSaysNotWhenItCameIn) {
  LineReader reader;
  const v1::Observation line = said(5, "a", 1, R"("arrived":{})");
  v1::Observation late = line;
  late.set_received("2026-03-02T11:00:00Z");
  v1::Observation other = line;
  other.set_seq(2);
  EXPECT_EQ(content_of(line), line.SerializeAsString());
  EXPECT_EQ(content_of(late), line.SerializeAsString());
  EXPECT_EQ(reader.read(line).leaf, record::merkle_leaf_hash(line.SerializeAsString()));
  EXPECT_EQ(reader.read(late).leaf, reader.read(line).leaf);
  EXPECT_EQ(reader.read(line).leaf,
            record::merkle_leaf_hash(line.SerializeAsString()));  // Also after one that came in.
  EXPECT_NE(reader.read(other).leaf, reader.read(line).leaf);
}

TEST(ReadLine, LetsGoOfASampleThatItCanWriteAgain) {
  LineReader reader;
  const v1::Observation sample = [] {
    v1::Observation line = sampled(2'000'000, "line", 3, "line.pull", 1500);
    line.set_time("2026-03-02T10:00:02.000000Z");
    return line;
  }();
  ReadLine read = reader.read(sample);
  EXPECT_TRUE(reader.let_go(read));
  EXPECT_EQ(read.observation, nullptr);
  v1::Observation own = sample;
  own.clear_clock();
  ReadLine by_own = reader.read(own);
  EXPECT_TRUE(reader.let_go(by_own));
  EXPECT_EQ(by_own.observation, nullptr);
  const auto kept = [&](auto change) {
    v1::Observation line = sample;
    change(line);
    ReadLine one = reader.read(line);
    return !reader.let_go(one) && one.observation == &line;
  };
  EXPECT_TRUE(kept([](v1::Observation& line) { line.set_time_uncertainty_ms(1); }));
  EXPECT_TRUE(kept([](v1::Observation& line) { line.set_quality(v1::Quality::GOOD); }));
  EXPECT_TRUE(kept([](v1::Observation& line) { line.set_time("2026-03-02T10:00:02Z"); }));
  EXPECT_TRUE(kept([](v1::Observation& line) { line.mutable_fix(); }));
  EXPECT_TRUE(kept([](v1::Observation& line) { line.mutable_alive(); }));
}

TEST(ReadLine, NumbersNamesInTheOrderTheyAreMet) {
  Names names;
  EXPECT_EQ(names.known("a"), kNoName);
  EXPECT_EQ(names.number("a"), 0);
  EXPECT_EQ(names.number("b"), 1);
  EXPECT_EQ(names.number("b"), 1);
  EXPECT_EQ(names.number("a"), 0);
  EXPECT_EQ(names.number("c"), 2);
  EXPECT_EQ(names.known("b"), 1);
  EXPECT_EQ(names.name(2), "c");
  EXPECT_EQ(names.size(), 3);
}

std::string reading(const std::string& source, const std::string& kind) {
  LineReader reader;
  const ReadLine read = reader.read(said(0, source, 1, kind));
  return read.quantity == kNoName
             ? fmt::format("none {}", read.value)
             : fmt::format("{} {}", reader.quantities.name(read.quantity), read.value);
}

TEST(ReadLine, FindsItsReading) {
  const std::string fix = R"("fix":{"latDeg":44,"lonDeg":-30,"speedMps":1.5,"hSdM":2,"mode":3})";
  EXPECT_EQ(reading("line", R"("sample":{"signal":"line.pull","value":250})"), "line.pull 250");
  EXPECT_EQ(reading("gps.tag", fix), "vehicle.speed 1.5");
  EXPECT_EQ(reading("gps.truck", fix), "truck.speed 1.5");
  EXPECT_EQ(reading("gps.other", fix), "none 0");
  EXPECT_EQ(reading("desk", R"("heat":{"celsius":41.5,"where":"battery"})"), "battery.temp 41.5");
  EXPECT_EQ(reading("deck", R"("deck":{"tiltDeg":8})"), "deck.tilt 8");
  EXPECT_EQ(reading("deck", R"("deck":{"moving":true})"), "none 0");
  EXPECT_EQ(
      reading("operator", R"("rigging":{"on":true,"point":"eye","gear":[],"legsAngleDeg":60})"),
      "rigging.legs_angle 60");
  EXPECT_EQ(
      reading("operator", R"("rigging":{"on":false,"point":"eye","gear":[],"legsAngleDeg":60})"),
      "none 0");
  EXPECT_EQ(reading("operator", R"("rigging":{"on":true,"point":"eye","gear":[]})"), "none 0");
  EXPECT_EQ(reading("operator", R"("isolation":{"metres":15,"barrier":true})"),
            "isolation.distance 15");
  EXPECT_EQ(reading("operator", R"("sourcePower":{"on":true,"nominalVolts":12})"),
            "source.nominal 12");
  EXPECT_EQ(reading("operator", R"("note":{"text":"-"})"), "none 0");
}

// The facts a line sets and the events it is.
std::string facts(const std::string& kind) {
  std::string text;
  facts_of_line(said(0, "operator", 1, kind), [&](const std::string& fact, Tri value) {
    text += fmt::format("{}{}{} ",
                        value == Tri::kTrue    ? ""
                        : value == Tri::kFalse ? "-"
                                               : "?",
                        fact, "");
  });
  return text;
}
std::string events(const std::string& kind) {
  std::string text;
  events_of_line(said(0, "operator", 1, kind),
                 [&](const std::string& event) { text += event + " "; });
  return text;
}

TEST(LineFacts, AreWhatALineSays) {
  EXPECT_EQ(facts(R"("vehicleMode":{"mode":"PARKED"})"),
            "mode.parked -mode.rolling -mode.drive -mode.reverse -mode.off ");
  EXPECT_EQ(facts(R"("vehicleMode":{"mode":"ROLLING"})"),
            "-mode.parked mode.rolling -mode.drive -mode.reverse -mode.off ");
  EXPECT_EQ(facts(R"("vehicleMode":{"mode":"DRIVE"})"),
            "-mode.parked -mode.rolling mode.drive -mode.reverse -mode.off ");
  EXPECT_EQ(facts(R"("vehicleMode":{"mode":"REVERSE"})"),
            "-mode.parked -mode.rolling -mode.drive mode.reverse -mode.off ");
  EXPECT_EQ(facts(R"("vehicleMode":{"mode":"OFF"})"),
            "-mode.parked -mode.rolling -mode.drive -mode.reverse mode.off ");
  EXPECT_EQ(facts(R"("screen":{"awake":true})"), "screen.awake ");
  EXPECT_EQ(facts(R"("screen":{"awake":false})"), "-screen.awake ");
  EXPECT_EQ(facts(R"("driveReady":{"confirmed":true})"), "drive.ready ");
  EXPECT_EQ(facts(R"("steering":{"live":true})"), "steering.live ");
  EXPECT_EQ(facts(R"("smoke":{"seen":true})"), "smoke ");
  EXPECT_EQ(facts(R"("isolation":{"metres":15,"barrier":true})"), "barrier ");
  EXPECT_EQ(facts(R"("scene":{"set":true})"), "scene.set ");
  EXPECT_EQ(facts(R"("charging":{"state":"STARTED"})"), "charging ");
  EXPECT_EQ(facts(R"("charging":{"state":"STOPPED"})"), "-charging ");
  EXPECT_EQ(facts(R"("charging":{"state":"CONFIRMED"})"), "charging ");
  EXPECT_EQ(facts(R"("connector":{"event":"IN"})"), "connector.in ");
  EXPECT_EQ(facts(R"("connector":{"event":"OUT"})"), "-connector.in ");
  EXPECT_EQ(facts(R"("connector":{"event":"RELEASED"})"), "");
  EXPECT_EQ(facts(R"("cover":{"which":"panel","off":true})"), "cover.off:panel ");
  EXPECT_EQ(facts(R"("clamp":{"lead":"POSITIVE","on":true,"at":"SOURCE"})"), "source.positive ");
  EXPECT_EQ(facts(R"("clamp":{"lead":"NEGATIVE","on":true,"at":"SOURCE"})"), "source.negative ");
  EXPECT_EQ(facts(R"("clamp":{"lead":"POSITIVE","on":true,"at":"VEHICLE","point":"LID_LEAD"})"),
            "lid.positive ");
  EXPECT_EQ(facts(R"("clamp":{"lead":"NEGATIVE","on":false,"at":"VEHICLE","point":"LID_LEAD"})"),
            "-lid.negative ");
  EXPECT_EQ(facts(R"("clamp":{"lead":"POSITIVE","on":true,"at":"VEHICLE","point":"TERMINALS"})"),
            "clamp.positive ");
  EXPECT_EQ(facts(R"("clamp":{"lead":"NEGATIVE","on":true,"at":"VEHICLE","point":"BATTERY"})"),
            "clamp.negative ");
  EXPECT_EQ(facts(R"("sourcePower":{"on":true,"nominalVolts":12})"), "-source.off ");
  EXPECT_EQ(facts(R"("sourcePower":{"on":false,"nominalVolts":12})"), "source.off ");
  EXPECT_EQ(facts(R"("ramp":{"on":true})"), "ramp ");
  EXPECT_EQ(facts(R"("line":{"state":"TAUT"})"), "line.taut -line.holding ");
  EXPECT_EQ(facts(R"("line":{"state":"HOLDING"})"), "line.taut line.holding ");
  EXPECT_EQ(facts(R"("line":{"state":"SLACK"})"), "-line.taut -line.holding ");
  EXPECT_EQ(facts(R"("line":{"state":"RELEASED"})"), "-line.taut -line.holding ");
  EXPECT_EQ(facts(R"("deck":{"moving":true})"), "deck.moving ");
  EXPECT_EQ(facts(R"("deck":{"tiltDeg":3})"), "");
  EXPECT_EQ(facts(R"("truckMotion":{"moving":true})"), "truck.moving ");
  EXPECT_EQ(facts(R"("note":{"text":"-"})"), "");
}

std::string wheels(v1::Vehicle::Driven driven,
                   const std::vector<std::pair<std::string, v1::Wheels::On>>& lines) {
  WheelStates states = kAllOnGround;
  std::string text;
  for (const auto& [which, on] : lines) {
    v1::Wheels line;
    line.set_which(which);
    line.set_on(on);
    text.clear();
    wheel_facts(line, driven, states, [&](const std::string& fact, Tri value) {
      text += (value == Tri::kTrue ? "" : "-") + fact + " ";
    });
  }
  return text;
}

TEST(LineFacts, OfTheWheels) {
  using W = v1::Wheels;
  using V = v1::Vehicle;
  const std::string all =
      "wheels.on_ground driven_wheels.on_ground -wheels.on_deck -wheels.on_skates -loaded ";
  const std::string front_up =
      "wheels.on_ground -driven_wheels.on_ground -wheels.on_deck -wheels.on_skates -loaded ";
  EXPECT_EQ(wheels(V::DRIVEN_UNSET, {{"ALL", W::GROUND}}), all);
  EXPECT_EQ(wheels(V::DRIVEN_UNSET, {{"LF", W::LIFT}, {"RF", W::LIFT}}), all);
  EXPECT_EQ(wheels(V::ALL, {{"LF", W::LIFT}, {"RF", W::LIFT}}), all);
  EXPECT_EQ(wheels(V::FRONT, {{"LF", W::LIFT}}), all);
  EXPECT_EQ(wheels(V::FRONT, {{"RF", W::LIFT}}), all);
  EXPECT_EQ(wheels(V::FRONT, {{"LF", W::LIFT}, {"RF", W::LIFT}}), front_up);
  EXPECT_EQ(wheels(V::REAR, {{"LF", W::LIFT}, {"RF", W::LIFT}}), all);
  EXPECT_EQ(wheels(V::REAR, {{"LR", W::LIFT}}), all);
  EXPECT_EQ(wheels(V::REAR, {{"RR", W::LIFT}}), all);
  EXPECT_EQ(wheels(V::REAR, {{"LR", W::LIFT}, {"RR", W::LIFT}}), front_up);
  const std::string off = "-wheels.on_ground -driven_wheels.on_ground ";
  EXPECT_EQ(wheels(V::FRONT, {{"ALL", W::DECK}}), off + "wheels.on_deck -wheels.on_skates loaded ");
  EXPECT_EQ(wheels(V::FRONT, {{"ALL", W::DECK}, {"RR", W::LIFT}}),
            off + "-wheels.on_deck -wheels.on_skates loaded ");
  EXPECT_EQ(wheels(V::FRONT, {{"ALL", W::LIFT}, {"LF", W::DECK}, {"RF", W::DECK}}),
            off + "-wheels.on_deck -wheels.on_skates loaded ");
  EXPECT_EQ(wheels(V::FRONT, {{"ALL", W::DECK}, {"RR", W::SKATE}}),
            off + "-wheels.on_deck wheels.on_skates -loaded ");
  EXPECT_EQ(wheels(V::FRONT, {{"ALL", W::DECK}, {"LR", W::DOLLY}}),
            off + "-wheels.on_deck wheels.on_skates -loaded ");
  EXPECT_EQ(wheels(V::FRONT, {{"ALL", W::SKATE}, {"LR", W::DOLLY}}),
            off + "-wheels.on_deck wheels.on_skates -loaded ");
  EXPECT_EQ(wheels(V::REAR, {{"ALL", W::DOLLY}, {"LR", W::GROUND}}), all);
}

TEST(LineFacts, EventsOfALine) {
  const std::string hash = std::string(64, 'a');
  EXPECT_EQ(events(R"("opened":{"procedures":[],"vehicle":"car","truck":"t","operator":"c"})"),
            "opened ");
  EXPECT_EQ(events(R"("closed":{"outcome":"SIGNED"})"), "closed ");
  EXPECT_EQ(events(R"("closed":{"outcome":"ABANDONED"})"), "closed abandoned ");
  EXPECT_EQ(events(R"("abandoned":{"words":"-"})"), "abandoned ");
  EXPECT_EQ(events(R"("reopened":{})"), "reopened ");
  EXPECT_EQ(events(R"("arrived":{})"), "arrived ");
  EXPECT_EQ(events(R"("identified":{"card":"c","how":"VIN"})"), "identified ");
  EXPECT_EQ(events(R"("authority":{"card":"c","kind":"OWNER","reference":"-"})"), "authority ");
  EXPECT_EQ(events(R"("statement":{"card":"c","text":"-"})"), "statement ");
  EXPECT_EQ(
      events(
          R"("condition":{"place":"door","kind":"dent","sizeMm":3,"words":"-","when":"BEFORE"})"),
      "condition ");
  EXPECT_EQ(events(R"("anchor":{"words":"-"})"), "anchor ");
  EXPECT_EQ(events(R"("crew":{"operator":"c","joins":true})"), "crew ");
  EXPECT_EQ(events(R"("heat":{"celsius":41.5,"where":"battery"})"), "heat ");
  EXPECT_EQ(events(R"("note":{"text":"-"})"), "note ");
  EXPECT_EQ(events(R"("caution":{"id":"C1","read":true})"), "caution.read:C1 ");
  EXPECT_EQ(events(R"("caution":{"id":"C1","read":false})"), "");
  EXPECT_EQ(events(R"("step":{"id":"S1","done":true})"), "step.done:S1 ");
  EXPECT_EQ(events(R"("step":{"id":"S1","done":false})"), "");
  EXPECT_EQ(events(R"("secured":{"checked":true})"), "secured.checked ");
  EXPECT_EQ(events(R"("secured":{"checked":false})"), "");
  const auto photo = [&](const char* when) {
    return events(fmt::format(
        R"("photo":{{"view":"dash","when":"{}","sha256":"{}","mediaType":"image/jpeg"}})", when,
        hash));
  };
  EXPECT_EQ(photo("BEFORE"), "photo:dash photo.before:dash ");
  EXPECT_EQ(photo("AFTER"), "photo:dash photo.after:dash ");
  EXPECT_EQ(photo("DURING"), "photo:dash ");
  EXPECT_EQ(events(fmt::format(R"("film":{{"sha256":"{}","mediaType":"video/mp4","when":"AFTER"}})",
                               hash)),
            "film photo:front photo.after:front photo:rear photo.after:rear photo:left "
            "photo.after:left photo:right photo.after:right ");
  EXPECT_EQ(events(R"("item":{"kind":"KEYS","state":"TAKEN"})"), "item:KEYS ");
  EXPECT_EQ(events(R"("custody":{"event":"STORED"})"), "custody.stored ");
  EXPECT_EQ(events(R"("charging":{"state":"STARTED"})"), "charging.started ");
  EXPECT_EQ(events(R"("connector":{"event":"TETHER_DRAWN"})"), "connector.tether_drawn ");
  EXPECT_EQ(events(R"("door":{"which":"driver","means":"TOOL"})"), "door.opened door.opened:TOOL ");
  EXPECT_EQ(events(R"("warning":{"rule":"R1","acknowledged":true})"), "warning.acknowledged:R1 ");
  EXPECT_EQ(events(R"("warning":{"rule":"R1","acknowledged":false})"), "warning.shown:R1 ");
  EXPECT_EQ(events(R"("scene":{"set":true})"), "");
}

TEST(LineFacts, WhoSpeaksAndHowItIsKnown) {
  EXPECT_TRUE(is_person("operator"));
  EXPECT_TRUE(is_person("desk"));
  EXPECT_FALSE(is_person("deck"));
  const std::string hash = std::string(64, 'a');
  const std::string photo = fmt::format(
      R"("photo":{{"view":"dash","when":"AFTER","sha256":"{}","mediaType":"image/jpeg"}})", hash);
  const std::string film =
      fmt::format(R"("film":{{"sha256":"{}","mediaType":"video/mp4","when":"AFTER"}})", hash);
  EXPECT_EQ(basis_of_line(said(0, "operator", 1, photo)), Basis::kPictured);
  EXPECT_EQ(basis_of_line(said(0, "camera", 1, film)), Basis::kPictured);
  EXPECT_EQ(basis_of_line(said(0, "operator", 1, R"("arrived":{})")), Basis::kSaid);
  EXPECT_EQ(basis_of_line(said(0, "gps.truck", 1, R"("arrived":{})")), Basis::kMeasured);
}

TEST(LineFacts, WhatHoldsBeforeAnybodySaysIt) {
  for (const char* fact :
       {"screen.awake", "drive.ready", "steering.live", "mode.parked", "mode.rolling", "mode.drive",
        "mode.reverse", "mode.off", "charging", "connector.in", "line.pulling", "deck.moving",
        "truck.moving", "clamp.connected"})
    EXPECT_EQ(initial_of(fact), Tri::kUnknown) << fact;
  for (const char* fact : {"wheels.on_ground", "driven_wheels.on_ground"})
    EXPECT_EQ(initial_of(fact), Tri::kTrue) << fact;
  for (const char* fact : {"clamp.positive", "smoke", "rigging", "loaded", "wheels.on_deck"})
    EXPECT_EQ(initial_of(fact), Tri::kFalse) << fact;
}

}  // namespace
}  // namespace fairlead::judge
