// Lines of JSON to observations and back. Names, words and ranges: the project's vocabulary,
// sections 1, 3 and 6; UTF-8: RFC 3629; JSON: RFC 8259 (duplicate names are only discouraged there,
// here refused).
#include "daemon/record/observation_json.h"

#include <google/protobuf/util/message_differencer.h>
#include <gtest/gtest.h>

#include <limits>
#include <random>
#include <set>
#include <string>
#include <vector>

#include "daemon/record/observation_check.h"

namespace fairlead::record {
namespace {

const std::string kHash(64, 'a');

std::string line_of(const std::string& rest) {
  return R"({"time":"2026-03-02T10:00:00Z","job":"demo-1","source":"operator","seq":1,)" + rest +
         "}";
}

// The example trace of the vocabulary, section 6.
const std::vector<std::string> kTrace = {
    R"({"time":"2026-03-02T10:00:00Z","job":"demo-1","source":"operator","seq":1,"clock":"truck","opened":{"procedures":["load"],"vehicle":"hatch-1","truck":"truck-7","operator":"card-3f","massKg":1500,"massSdKg":20}})",
    R"({"time":"2026-03-02T10:01:10Z","job":"demo-1","source":"operator","seq":2,"clock":"truck","photo":{"view":"front","when":"BEFORE","sha256":"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855","mediaType":"image/jpeg"}})",
    R"({"time":"2026-03-02T10:03:00Z","job":"demo-1","source":"operator","seq":3,"clock":"truck","rigging":{"on":true,"point":"front_eye","gear":["soft-1"],"legsAngleDeg":0}})",
    R"({"time":"2026-03-02T10:04:40Z","job":"demo-1","source":"operator","seq":4,"clock":"truck","line":{"state":"TAUT"}})",
    R"({"time":"2026-03-02T10:04:41.5Z","job":"demo-1","source":"line","seq":1,"clock":"truck","sample":{"signal":"line.pull","value":2600}})",
    R"({"time":"2026-03-02T10:05:00Z","job":"demo-1","source":"operator","seq":5,"clock":"truck","vehicleMode":{"mode":"ROLLING"}})",
    R"({"time":"2026-03-02T10:05:01Z","job":"demo-1","source":"gps.tag","seq":1,"clock":"truck","fix":{"latDeg":0.0000081,"lonDeg":0,"speedMps":0.9,"courseDeg":0,"hSdM":2.5,"speedSdMps":0.1,"mode":3}})",
    R"({"time":"2026-03-02T10:05:05Z","job":"demo-1","source":"operator","seq":6,"clock":"truck","vehicleMode":{"mode":"PARKED"}})",
    R"({"time":"2026-03-02T10:08:00Z","job":"demo-1","source":"operator","seq":7,"clock":"truck","tiedown":{"on":true,"gear":"strap-1","wheel":"LF","path":"SAME_SIDE"}})",
    R"({"time":"2026-03-02T10:40:00Z","job":"demo-1","source":"operator","seq":8,"clock":"truck","closed":{"outcome":"SIGNED"}})",
};

// One good line of every kind, with its optional fields where it has any.
std::vector<std::string> good_lines() {
  std::vector<std::string> lines = kTrace;
  const std::string hash = "\"sha256\":\"" + kHash + "\"";
  for (
      const std::string& kind : std::vector<std::string>{
          R"("opened":{"procedures":[],"vehicle":"small","truck":"t","operator":"c","position":"LIFT","promised":"2026-03-02T12:00:00+01:00","firstSeq":[{"source":"line","seq":7}]})",
          R"("abandoned":{"words":"stuck fast"})",
          R"("reopened":{})",
          R"("crew":{"operator":"card-2","joins":false})",
          R"("found":{"rolls":"UNKNOWN","lockedWheels":["LF"],"flatTyres":[],"power":"NONE","keys":true,"fluids":false,"airbags":false,"movedByOthersBefore":false,"place":"OTHER","surface":"OTHER","gradeDeg":-3.5})",
          R"("identified":{"card":"c1","how":"BOTH"})",
          R"("authority":{"card":"c1","kind":"POLICE","reference":""})",
          R"("statement":{"card":"c1","text":"bläulich \u20ac \"so\"",)" + hash + "}",
          R"("arrived":{})",
          R"("scene":{"set":true})",
          R"("caution":{"id":"C1","read":true})",
          R"("step":{"id":"S1","done":true})",
          R"("undo":{"source":"operator","seq":4294967295})",
          R"("reason":{"rule":"R01","words":"ice"})",
          R"("photo":{"view":"spot:left sill","when":"DURING",)" + hash +
              R"(,"mediaType":"image/png","limits":["DARK","WET"]})",
          R"("film":{)" + hash + R"(,"mediaType":"video/mp4","when":"AFTER"})",
          R"("condition":{"place":"bumper","kind":"scratch","sizeMm":12.5,"words":"","when":"BEFORE"})",
          R"("screen":{"awake":true})",
          R"("driveReady":{"confirmed":true})",
          R"("steering":{"live":false})",
          R"("charging":{"state":"CONFIRMED"})",
          R"("connector":{"event":"TETHER_DRAWN"})",
          R"("door":{"which":"LF","means":"TOOL"})",
          R"("cover":{"which":"wheel:LF","off":true})",
          R"("clamp":{"lead":"POSITIVE","on":true,"at":"VEHICLE","point":"LID_LEAD"})",
          R"("sourcePower":{"on":true,"nominalVolts":12})",
          R"("anchor":{"words":"tree"})",
          R"("tiedown":{"on":false,"gear":"s","anchorGear":"a","point":"rear","path":"ACROSS","over":"TREAD"})",
          R"("secured":{"checked":true})",
          R"("wheels":{"which":"ALL","on":"DECK"})",
          R"("ramp":{"on":true})",
          R"("deck":{"moving":true,"tiltDeg":11})",
          R"("truckMotion":{"moving":false})",
          R"("heat":{"celsius":81.25,"where":"rear left"})",
          R"("smoke":{"seen":true})",
          R"("isolation":{"metres":15,"barrier":false})",
          R"("item":{"kind":"OTHER","state":"NOT_SEEN","bag":"b","card":"c"})",
          R"("custody":{"event":"STORED","to":"c","place":"row 4",)" + hash + "}",
          R"("warning":{"rule":"speed","acknowledged":false})",
          R"("alive":{})",
          R"("gap":{"channel":"line.pull","cause":"cable","lost":18446744073709551615})",
          R"("clockOffset":{"clock":"cam","offsetMs":-1772000000000.5,"sdMs":20})",
          R"("sensor":{"channel":"line.pull","state":"dead"})",
          R"("note":{"text":""})",
          R"("timeUncertaintyMs":0.5,"received":"2026-03-02T10:00:01Z","quality":"OVERLOAD","sample":{"signal":"clamp.pos.contact","value":1})",
      }) {
    lines.push_back(line_of(kind));
  }
  return lines;
}

TEST(ObservationJson, ExampleTraceReadsAndRoundTripsByteForByteButForNumberForms) {
  for (const auto& line : kTrace) {
    const auto first = observation_from_line(line);
    ASSERT_TRUE(first) << first.error().message << "\n" << line;
    const auto again = observation_from_line(observation_to_line(*first));
    ASSERT_TRUE(again) << again.error().message;
    EXPECT_TRUE(google::protobuf::util::MessageDifferencer::Equals(*first, *again)) << line;
  }
  EXPECT_EQ(kTrace[3], observation_to_line(*observation_from_line(kTrace[3])));
  const auto fix = observation_from_line(kTrace[6]);
  EXPECT_EQ(0.0000081, fix->fix().lat_deg());
  EXPECT_EQ(3U, fix->fix().mode());
  EXPECT_TRUE(fix->fix().has_course_deg());
}

TEST(ObservationJson, EveryKindRoundTrips) {
  std::set<int> kinds;
  for (const auto& line : good_lines()) {
    const auto first = observation_from_line(line);
    ASSERT_TRUE(first) << first.error().message << "\n" << line;
    kinds.insert(first->kind_case());
    const auto again = observation_from_line(observation_to_line(*first));
    ASSERT_TRUE(again) << again.error().message << "\n" << observation_to_line(*first);
    EXPECT_TRUE(google::protobuf::util::MessageDifferencer::Equals(*first, *again)) << line;
  }
  const auto* oneof = v1::Observation::descriptor()->FindOneofByName("kind");
  EXPECT_EQ(static_cast<size_t>(oneof->field_count()), kinds.size()) << "a kind has no good line";
}

TEST(ObservationJson, WordsThatOnlyThePrefixTellsApartReadAsTheVocabularyHasThem) {
  const auto found = observation_from_line(good_lines()[14]);
  ASSERT_TRUE(found) << found.error().message;
  EXPECT_EQ(v1::Found::PLACE_OTHER, found->found().place());
  EXPECT_EQ(v1::Found::SURFACE_OTHER, found->found().surface());
  EXPECT_NE(std::string::npos, observation_to_line(*found).find(R"("place":"OTHER")"));
}

struct Bad {
  std::string line;
  std::string start;     // The message starts with this path.
  std::string contains;  // And says this.
};

const std::string kNote = R"("note":{"text":"x"})";
const std::string kHead = R"({"time":"2026-03-02T10:00:00Z","source":"line","seq":1,)";

std::string sample(const std::string& signal, const std::string& value) {
  return kHead + R"("sample":{"signal":")" + signal + R"(","value":)" + value + "}}";
}

// A good fix with one field's value replaced, or added.
std::string fix(const std::string& key, const std::string& value) {
  std::string out = kHead + R"("fix":{"latDeg":1,"lonDeg":1,"speedMps":1,"hSdM":1,"mode":3}})";
  const auto at = out.find("\"" + key + "\":");
  if (at == std::string::npos) {
    return out.substr(0, out.size() - 2) + ",\"" + key + "\":" + value + "}}";
  }
  return out.replace(at + key.size() + 3, 1, value);
}

std::vector<Bad> whole_lines() {
  return {
      {"", "line: ", "not JSON"},
      {"nonsense", "line: ", "not JSON"},
      {line_of(kNote).substr(0, 60), "line: ", "not JSON"},
      {line_of(kNote) + "{}", "line: ", "not JSON"},
      {"[]", "line: ", "object"},
      {"7", "line: ", "object"},
      {"null", "line: ", "object"},
      {"{}", "time: ", "missing"},
      {line_of(kNote + R"(,"extra":[[[[[[[1]]]]]]])"), "line: ", "nested"},
      {line_of("\"note\":{\"text\":\"\xff\"}"), "line: ", "UTF-8"},
      {line_of("\"note\":{\"text\":\"\xc0\x80\"}"), "line: ", "UTF-8"},
      {line_of("\"note\":{\"text\":\"\xed\xa0\x80\"}"), "line: ", "UTF-8"},
      {line_of(R"("note":{"text":")" + std::string(kLongestLine, 'x') + "\"}"), "line: ", "bytes"},
  };
}

std::vector<Bad> unknown_or_missing() {
  return {
      {line_of(R"("notes":{"text":"x"})"), "notes: ", "'note'"},
      {line_of(kNote + R"(,"colour":1)"), "colour: ", "not a known field"},
      {line_of(R"("vehicle_mode":{"mode":"DRIVE"})"), "vehicle_mode: ", "'vehicleMode'"},
      {line_of(kNote + R"(,"seq":2)"), "seq: ", "twice"},
      {line_of(R"("note":{"text":"x","text":"y"})"), "text: ", "twice"},
      {line_of(R"("note":{"text":"x","txt":"y"})"), "note.txt: ", "'text'"},
      {line_of(kNote + R"(,"arrived":{})"), "arrived: ", "second kind"},
      {line_of(R"("clock":"truck")"), "line: ", "no kind"},
      {line_of(R"("note":{})"), "note.text: ", "missing"},
      {line_of(R"("rigging":{"on":true,"point":"e"})"), "rigging.gear: ", "missing"},
      {line_of(R"("film":{"sha256":")" + kHash + R"(","when":"AFTER"})"),
       "film.mediaType: ", "missing"},
      {line_of(R"("clamp":{"lead":"POSITIVE","at":"SOURCE"})"), "clamp.on: ", "missing"},
      {R"({"job":"j","source":"operator","seq":1,"note":{"text":"x"}})", "time: ", "missing"},
      {R"({"time":"2026-03-02T10:00:00Z","job":"j","seq":1,"note":{"text":"x"}})",
       "source: ", "missing"},
      {R"({"time":"2026-03-02T10:00:00Z","job":"j","source":"operator","note":{"text":"x"}})",
       "seq: ", "missing"},
      {kHead + kNote + "}", "job: ", "missing"},
      {R"({"time":"2026-03-02T10:00:00Z","job":"","source":"operator","seq":1,"note":{"text":"x"}})",
       "job: ", "missing"},
  };
}

std::vector<Bad> wrong_types() {
  return {
      {line_of(R"("note":{"text":5})"), "note.text: ", "a number; write a string"},
      {line_of(R"("note":{"text":null})"), "note.text: ", "null"},
      {line_of(R"("note":"x")"), "note: ", "object"},
      {line_of(R"("arrived":true)"), "arrived: ", "object"},
      {line_of(R"("scene":{"set":"true"})"), "scene.set: ", "true or false"},
      {line_of(R"("scene":{"set":1})"), "scene.set: ", "true or false"},
      {line_of(R"("rigging":{"on":true,"point":"e","gear":"soft-1"})"), "rigging.gear: ", "a list"},
      {line_of(R"("rigging":{"on":true,"point":"e","gear":["a",2]})"),
       "rigging.gear[1]: ", "a string"},
      {line_of(R"("line":{"state":1})"), "line.state: ", "string"},
      {sample("line.pull", "\"2600\""), "sample.value: ", "a string; write a number"},
      {sample("line.pull", "1e999"), "line: ", "too large"},
      {sample("line.pull", "NaN"), "line: ", "not JSON"},
      {R"({"time":5,"source":"line","seq":1,"alive":{}})", "time: ", "a string"},
      {R"({"time":"2026-03-02T10:00:00Z","source":"line","seq":"1","alive":{}})",
       "seq: ", "a number"},
      {R"({"time":"2026-03-02T10:00:00Z","source":"line","seq":1.5,"alive":{}})", "seq: ", "whole"},
      {R"({"time":"2026-03-02T10:00:00Z","source":"line","seq":-1,"alive":{}})", "seq: ", "whole"},
      {R"({"time":"2026-03-02T10:00:00Z","source":"line","seq":4294967296,"alive":{}})",
       "seq: ", "whole"},
      {R"({"time":"2026-03-02T10:00:00Z","source":"line","seq":0,"alive":{}})", "seq: ", "outside"},
  };
}

std::vector<Bad> unknown_words() {
  return {
      {line_of(R"("line":{"state":"TAUTT"})"), "line.state: ", "'TAUT'"},
      {line_of(R"("line":{"state":"UNSET"})"), "line.state: ", "not a known word"},
      {line_of(
           R"("found":{"rolls":"ROLLS_UNSET","lockedWheels":[],"flatTyres":[],"power":"NONE","keys":true,"fluids":false,"airbags":false,"movedByOthersBefore":false,"place":"LOT","surface":"DRY"})"),
       "found.rolls: ", "YES, NO, UNKNOWN"},
      {line_of(
           R"("found":{"rolls":"YES","lockedWheels":["XX"],"flatTyres":[],"power":"NONE","keys":true,"fluids":false,"airbags":false,"movedByOthersBefore":false,"place":"LOT","surface":"DRY"})"),
       "found.lockedWheels[0]: ", "LF"},
      {line_of(R"("quality":"GOD",)" + kNote), "quality: ", "'GOOD'"},
      {line_of(R"("wheels":{"which":"FL","on":"DECK"})"), "wheels.which: ", "ALL, LF"},
      {line_of(R"("photo":{"view":"frnt","when":"BEFORE","sha256":")" + kHash +
               R"(","mediaType":"image/png"})"),
       "photo.view: ", "'front'"},
      {line_of(R"("photo":{"view":"spot:","when":"BEFORE","sha256":")" + kHash +
               R"(","mediaType":"image/png"})"),
       "photo.view: ", "not a known view"},
      {sample("line.pul", "5"), "sample.signal: ", "'line.pull'"},
      {sample("", "5"), "sample.signal: ", "not a known signal"},
  };
}

// Just beyond each end of the vocabulary's section 3.
std::vector<Bad> out_of_range() {
  return {
      {sample("line.pull", "-5000.5"), "sample.value: ", "-5000 to 1000000 N"},
      {sample("line.pull", "1000001"), "sample.value: ", "outside"},
      {sample("line.out", "-5.1"), "sample.value: ", "m"},
      {sample("line.out", "200.1"), "sample.value: ", "outside"},
      {sample("clamp.volts", "100.1"), "sample.value: ", "V"},
      {sample("clamp.amps", "-3001"), "sample.value: ", "A"},
      {sample("battery.temp", "-61"), "sample.value: ", "degC"},
      {sample("clamp.neg.contact", "0.5"), "sample.value: ", "whole"},
      {sample("truck.speed", "60.1"), "sample.value: ", "m/s"},
      {fix("latDeg", "90.1"), "fix.latDeg: ", "outside"},
      {fix("lonDeg", "-180.1"), "fix.lonDeg: ", "outside"},
      {fix("speedMps", "61"), "fix.speedMps: ", "outside"},
      {fix("hSdM", "-1"), "fix.hSdM: ", "outside"},
      {fix("speedSdMps", "-1"), "fix.speedSdMps: ", "outside"},
      {fix("courseDeg", "361"), "fix.courseDeg: ", "outside"},
      {fix("mode", "4"), "fix.mode: ", "outside"},
      {line_of(R"("heat":{"celsius":1501,"where":"x"})"), "heat.celsius: ", "1500 degC"},
      {line_of(
           R"("opened":{"procedures":[],"vehicle":"v","truck":"t","operator":"o","massKg":60001})"),
       "opened.massKg: ", "60000 kg"},
      {line_of(R"("timeUncertaintyMs":-1,)" + kNote), "timeUncertaintyMs: ", "outside"},
  };
}

std::vector<Bad> bad_texts() {
  return {
      {line_of(R"("film":{"sha256":"abc","mediaType":"m","when":"AFTER"})"),
       "film.sha256: ", "64 hex"},
      {line_of(R"("film":{"sha256":")" + std::string(64, 'g') +
               R"(","mediaType":"m","when":"AFTER"})"),
       "film.sha256: ", "64 hex"},
      {R"({"time":"2026-13-02T10:00:00Z","source":"line","seq":1,"alive":{}})",
       "time: ", "RFC 3339"},
      {R"({"time":"2026-03-02T10:00:00","source":"line","seq":1,"alive":{}})",
       "time: ", "RFC 3339"},
      {line_of(R"("received":"yesterday",)" + kNote), "received: ", "RFC 3339"},
      {R"({"time":"2026-03-02T10:00:00Z","job":"a b","source":"operator","seq":1,"note":{"text":"x"}})",
       "job: ", "job id"},
      {R"({"time":"2026-03-02T10:00:00Z","job":")" + std::string(65, 'j') +
           R"(","source":"operator","seq":1,"note":{"text":"x"}})",
       "job: ", "64"},
      {R"({"time":"2026-03-02T10:00:00Z","source":"","seq":1,"alive":{}})", "source: ", "1 to 64"},
      {line_of(R"("opened":{"procedures":[],"vehicle":"","truck":"t","operator":"o"})"),
       "opened.vehicle: ", "empty"},
      {line_of(
           R"("opened":{"procedures":[],"vehicle":"v","truck":"t","operator":"o","firstSeq":[{"source":"line","seq":0}]})"),
       "opened.firstSeq[0].seq: ", "outside"},
  };
}

std::vector<Bad> bad_lines() {
  std::vector<Bad> all;
  for (auto part : {whole_lines(), unknown_or_missing(), wrong_types(), unknown_words(),
                    out_of_range(), bad_texts()}) {
    std::move(part.begin(), part.end(), std::back_inserter(all));
  }
  return all;
}

TEST(ObservationJson, MalformedLinesAreRefusedAtTheirField) {
  const auto lines = bad_lines();
  ASSERT_GE(lines.size(), 60U);
  for (const auto& [line, start, contains] : lines) {
    const auto read = observation_from_line(line);
    ASSERT_FALSE(read) << line;
    EXPECT_EQ(Code::kBadInput, read.error().code);
    EXPECT_TRUE(read.error().message.starts_with(start)) << read.error().message << "\n" << line;
    EXPECT_NE(std::string::npos, read.error().message.find(contains))
        << read.error().message << "\n"
        << line.substr(0, 300);
    EXPECT_NE(std::string::npos, read.error().message.find("; "))
        << "no remedy: " << read.error().message;
  }
}

TEST(ObservationJson, TextIsCountedInCharactersNotBytes) {
  std::string euros;
  for (int i = 0; i < 10'000; ++i) euros += "\xe2\x82\xac";
  EXPECT_TRUE(observation_from_line(line_of(R"("note":{"text":")" + euros + "\"}")));
  const auto read = observation_from_line(line_of(R"("note":{"text":")" + euros + "x\"}"));
  ASSERT_FALSE(read);
  EXPECT_TRUE(read.error().message.starts_with("note.text: has 10001 characters"));
}

TEST(ObservationJson, LineEndsDoNotMatter) {
  EXPECT_TRUE(observation_from_line(kTrace[0] + "\r\n"));
  EXPECT_TRUE(observation_from_line("  " + kTrace[0] + "  "));
}

TEST(ObservationJson, MutatedLinesNeverCrashAndWhatIsAcceptedRoundTrips) {
  std::mt19937 random(20260302);
  const auto lines = good_lines();
  const std::string alphabet = "{}[]\",:0123456789-+.eE\\utrfalsn \x01\xff\xc3";
  size_t accepted = 0, refused = 0;
  for (int i = 0; i < 20'000; ++i) {
    std::string line = lines[random() % lines.size()];
    for (size_t edits = 1 + random() % 3; edits > 0; --edits) {
      const size_t at = random() % line.size();
      switch (random() % 4) {
        case 0:
          line[at] = alphabet[random() % alphabet.size()];
          break;
        case 1:
          line.erase(at, 1 + random() % 4);
          break;
        case 2:
          line.insert(at, 1, alphabet[random() % alphabet.size()]);
          break;
        default:
          line.insert(at, line.substr(random() % line.size(), random() % 20));
          break;
      }
      if (line.empty()) line = "{";
    }
    const auto read = observation_from_line(line);
    if (!read) {
      ++refused;
      EXPECT_FALSE(read.error().message.empty());
      continue;
    }
    ++accepted;
    const auto again = observation_from_line(observation_to_line(*read));
    ASSERT_TRUE(again) << again.error().message << "\n" << line;
    ASSERT_TRUE(google::protobuf::util::MessageDifferencer::Equals(*read, *again)) << line;
  }
  EXPECT_GT(accepted, 500U);
  EXPECT_GT(refused, 5'000U);
}

TEST(ObservationCheck, SeesInMessagesWhatTheLineReaderSeesInLines) {
  auto o = *observation_from_line(kTrace[3]);
  EXPECT_TRUE(check_observation(o));
  o.mutable_line()->set_state(v1::Line::UNSET);
  ASSERT_FALSE(check_observation(o));
  EXPECT_TRUE(check_observation(o).error().message.starts_with("line.state: "));
  o = *observation_from_line(kTrace[4]);
  o.mutable_sample()->set_value(std::numeric_limits<double>::quiet_NaN());
  ASSERT_FALSE(check_observation(o));
  EXPECT_TRUE(check_observation(o).error().message.starts_with("sample.value: "));
  EXPECT_EQ("vehicleMode", kind_name(*observation_from_line(kTrace[5])));
}

}  // namespace
}  // namespace fairlead::record
