// Which observations share an entry and when it closes: the record's section 2, "How observations
// become entries".
#include "daemon/record/packer.h"

#include <gtest/gtest.h>

#include <random>

#include "daemon/record/commitment.h"
#include "daemon/record/observation_json.h"
#include "daemon/record/strip.h"

namespace fairlead::record {
namespace {

v1::Observation line(const std::string& kind, uint32_t seq = 1, const std::string& job = "j1") {
  const auto read = observation_from_line(R"({"time":"2026-03-02T10:00:00.000000Z","job":")" + job +
                                          R"(","source":"operator","seq":)" + std::to_string(seq) +
                                          "," + kind + "}");
  if (!read) ADD_FAILURE() << read.error().message;
  return read.value_or(v1::Observation());
}

const std::string kSample = R"("sample":{"signal":"line.pull","value":5})";
const std::string kFix = R"("fix":{"latDeg":1,"lonDeg":2,"speedMps":3,"hSdM":4,"mode":3})";
const std::string kOpened =
    R"("opened":{"procedures":["load"],"vehicle":"v","truck":"t","operator":"o"})";
const std::string kTaut = R"("line":{"state":"TAUT"})";

std::vector<Kind> kinds_of(const std::vector<PackedBody>& bodies) {
  std::vector<Kind> kinds;
  for (const auto& body : bodies) kinds.push_back(body.kind);
  return kinds;
}

TEST(Packer, LinesShareAnEntryFor200Milliseconds) {
  Packer packer;
  EXPECT_TRUE(packer.add(line(kTaut, 1), 1'000)->empty());
  EXPECT_TRUE(packer.add(line(kTaut, 2), 100'000)->empty());
  EXPECT_EQ(201'000, packer.next_due_us());
  EXPECT_TRUE(packer.due(200'999).empty());
  const auto out = packer.due(201'000);
  ASSERT_EQ(1U, out.size());
  EXPECT_EQ(Kind::kObservations, out[0].kind);
  EXPECT_EQ("j1", out[0].job);
  EXPECT_FALSE(out[0].urgent);
  EXPECT_EQ(2U, observations_of(out[0].kind, out[0].body)->size());
  EXPECT_EQ(std::nullopt, packer.next_due_us());
}

TEST(Packer, SixtyFourLinesCloseAnEntry) {
  Packer packer;
  for (uint32_t i = 1; i < 64; ++i) ASSERT_TRUE(packer.add(line(kTaut, i), 0)->empty());
  const auto out = packer.add(line(kTaut, 64), 0);
  ASSERT_EQ(1U, out->size());
  EXPECT_EQ(64U, observations_of((*out)[0].kind, (*out)[0].body)->size());
}

TEST(Packer, WarningHeatAndSmokeGoOutAtOnceWithWhatWaited) {
  for (const char* kind : {R"("warning":{"rule":"R","acknowledged":false})",
                           R"("heat":{"celsius":90,"where":"x"})", R"("smoke":{"seen":true})"}) {
    Packer packer;
    ASSERT_TRUE(packer.add(line(kTaut, 1), 0)->empty());
    const auto out = packer.add(line(kind, 2), 0);
    ASSERT_EQ(1U, out->size()) << kind;
    EXPECT_TRUE((*out)[0].urgent);
    EXPECT_EQ(2U, observations_of((*out)[0].kind, (*out)[0].body)->size());
  }
}

TEST(Packer, WhatMayBePersonalStandsAlone) {
  const std::string hash(64, '0');
  for (const std::string& kind :
       {std::string(R"("note":{"text":"x"})"),
        R"("photo":{"view":"front","when":"BEFORE","sha256":")" + hash + R"(","mediaType":"m"})",
        R"("film":{"sha256":")" + hash + R"(","mediaType":"m","when":"AFTER"})",
        std::string(
            R"("condition":{"place":"p","kind":"k","sizeMm":1,"words":"w","when":"AFTER"})"),
        std::string(R"("statement":{"card":"c","text":"t"})"),
        std::string(R"("custody":{"event":"TAKEN"})"),
        std::string(R"("item":{"kind":"KEYS","state":"TAKEN"})")}) {
    Packer packer;
    ASSERT_TRUE(packer.add(line(kTaut, 1), 0)->empty());
    const auto out = packer.add(line(kind, 2), 0);
    ASSERT_EQ(2U, out->size()) << kind;  // What waited before, then this one.
    EXPECT_EQ(1U, observations_of((*out)[1].kind, (*out)[1].body)->size());
    EXPECT_EQ(2U, (*observations_of((*out)[1].kind, (*out)[1].body))[0].seq());
  }
}

TEST(Packer, AJobsFirstAndLastLineCloseTheStripAndWhatWaited) {
  Packer packer;
  v1::Pin pin;
  pin.set_name("load.textproto");
  packer.set_pins({pin});
  ASSERT_TRUE(packer.add(line(kSample, 1), 0)->empty());
  ASSERT_TRUE(packer.add(line(kTaut, 1, "j0"), 0)->empty());
  const auto open = packer.add(line(kOpened, 2), 1);
  EXPECT_EQ((std::vector{Kind::kStrip, Kind::kObservations, Kind::kJobOpen}), kinds_of(*open));
  EXPECT_EQ("", (*open)[0].job);
  EXPECT_EQ("j0", (*open)[1].job);
  EXPECT_EQ("j1", (*open)[2].job);
  v1::JobOpenBody body;
  ASSERT_TRUE(body.ParseFromString((*open)[2].body));
  EXPECT_EQ("load.textproto", body.pins(0).name());
  ASSERT_TRUE(packer.add(line(kSample, 2), 2)->empty());
  const auto close = packer.add(line(R"("closed":{"outcome":"SIGNED"})", 3), 3);
  EXPECT_EQ((std::vector{Kind::kStrip, Kind::kJobClose}), kinds_of(*close));
  const auto gone = packer.add(line(R"("abandoned":{"words":"w"})", 4), 4);
  EXPECT_EQ(std::vector{Kind::kJobClose}, kinds_of(*gone));
  EXPECT_TRUE((*observations_of(Kind::kJobClose, (*gone)[0].body))[0].has_abandoned());
}

TEST(Packer, AStripClosesAfterTenSecondsOr4096Values) {
  Packer by_time;
  ASSERT_TRUE(by_time.add(line(kSample, 1), 0)->empty());
  EXPECT_EQ(10'000'000, by_time.next_due_us());
  EXPECT_TRUE(by_time.due(9'999'999).empty());
  EXPECT_EQ(std::vector{Kind::kStrip}, kinds_of(by_time.due(10'000'000)));
  Packer by_count;
  size_t closed_at = 0;
  for (uint32_t i = 1; closed_at == 0 && i < 2'000; ++i) {
    if (!by_count.add(line(kFix, i), 0)->empty()) closed_at = i;
  }
  EXPECT_EQ(820U, closed_at);  // 820 x 5 is the first number of values from 4,096 on.
  ASSERT_TRUE(by_count.add(line(kSample, 1), 0)->empty());
  EXPECT_EQ(1U, by_count.close_strip().size());
  EXPECT_TRUE(by_count.close_strip().empty());
}

TEST(Packer, BodiesNeverOutgrowAnEntry) {
  Packer packer;
  const std::string words(9'000, 'w');
  size_t lines = 0;
  std::vector<PackedBody> all;
  const auto take = [&](std::vector<PackedBody> bodies) {
    for (auto& body : bodies) all.push_back(std::move(body));
  };
  for (uint32_t i = 1; i <= 40; ++i) {
    take(*packer.add(line(R"("reason":{"rule":"R","words":")" + words + "\"}", i), 0));
  }
  std::mt19937_64 random(1);
  for (uint32_t i = 1; i <= 4'000; ++i) {  // Times and sources that pack as badly as can be.
    auto wild = line(kFix, i);
    wild.set_source("s" + std::to_string(random() % 50));
    wild.set_seq(static_cast<uint32_t>(random() % 4'000'000'000 + 1));
    wild.set_time_uncertainty_ms(static_cast<double>(random() % 1'000'000'000'000));
    wild.mutable_fix()->set_lat_deg(static_cast<double>(random() % 180) - 90);
    wild.mutable_fix()->set_h_sd_m(static_cast<double>(random() % 1'000'000));
    wild.set_received(random() % 2 ? "9999-12-31T23:59:59Z" : "1970-01-01T00:00:00Z");
    take(*packer.add(wild, 0));
  }
  take(packer.flush());
  for (const auto& body : all) {
    EXPECT_LE(body.body.size(), kMaxBodySize);
    const auto back = observations_of(body.kind, body.body);
    ASSERT_TRUE(back) << back.error().message;
    lines += back->size();
  }
  EXPECT_EQ(4'040U, lines);
}

TEST(Packer, NothingComesBackOtherThanItWent) {
  const auto out = Packer().add(line(R"("note":{"text":"x"})"), 0);
  ASSERT_TRUE(out);
  auto broken = (*out)[0].body;
  broken[broken.size() / 2] = '\xff';
  EXPECT_FALSE(observations_of(Kind::kObservations, broken));
  EXPECT_FALSE(observations_of(Kind::kObservations, std::string(kMaxBodySize + 1, ' ')));
  EXPECT_TRUE(observations_of(Kind::kStart, "anything")->empty());
  v1::ObservationsBody insane;
  *insane.add_observation() = line(kTaut);
  insane.mutable_observation(0)->mutable_line()->set_state(v1::Line::UNSET);
  const auto refused = observations_of(Kind::kObservations, insane.SerializeAsString());
  ASSERT_FALSE(refused);
  EXPECT_TRUE(refused.error().message.starts_with("observation[0].line.state: "));
}

TEST(Packer, ARecoveredEntryGivesTheLinesInsideIt) {
  const auto out = Packer().add(line(R"("note":{"text":"x"})"), 0);
  const Salt salt{};
  EntryHeader header;
  ASSERT_TRUE(bind_body(header, salt, (*out)[0].body));
  v1::RecoveredBody recovered;
  const auto entry = sign_entry(header, SecretKey::generate());
  recovered.set_entry(string_of(entry));
  recovered.set_salt(string_of(salt));
  recovered.set_body((*out)[0].body);
  EXPECT_EQ("x",
            observations_of(Kind::kRecovered, recovered.SerializeAsString())->at(0).note().text());
  recovered.mutable_body()->append(" ");
  EXPECT_FALSE(observations_of(Kind::kRecovered, recovered.SerializeAsString()));
}

}  // namespace
}  // namespace fairlead::record
