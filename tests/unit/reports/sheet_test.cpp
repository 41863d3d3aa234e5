// The job sheet against the invented job's own time line (sample_job.h).
#include "reports/sheet/sheet.h"

#include <gmock/gmock.h>

#include "reports/csv.h"
#include "reports/job_way.h"
#include "tests/unit/reports/page_text.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

using testing::HasSubstr;
using testing::Not;

v1::Observation fix(int second, double speed_mps) {
  v1::Observation line;
  line.set_time("2027-02-18T14:" + std::string(second < 600 ? "0" : "") +
                std::to_string(second / 60) + ":" + (second % 60 < 10 ? "0" : "") +
                std::to_string(second % 60) + "Z");
  line.set_source("gps.truck");
  line.mutable_fix()->set_speed_mps(speed_mps);
  line.mutable_fix()->set_mode(3);
  return line;
}

v1::Observation wheels(int second, v1::Wheels::On on) {
  v1::Observation line = fix(second, 0);
  line.set_source("operator");
  line.mutable_wheels()->set_which("ALL");
  line.mutable_wheels()->set_on(on);
  return line;
}

JobWay way_of(const JobRecord& record) { return job_way(record, gather_facts(record)); }

// 10 m/s for 100 s is 1 km; the 300 s before the car was aboard and what comes after do not count.
TEST(JobWay, KilometresAreSpeedOverTimeWhileAboard) {
  JobRecord record;
  for (int s = 0; s <= 600; ++s) record.lines.push_back(fix(s, 10));
  record.lines.push_back(wheels(300, v1::Wheels::DECK));
  record.lines.push_back(wheels(400, v1::Wheels::GROUND));
  const JobWay way = way_of(record);
  ASSERT_TRUE(way.loaded_km.has_value());
  EXPECT_NEAR(*way.loaded_km, 1.0, 1e-9);
  EXPECT_EQ(way.unseen_us, 0);
  EXPECT_FALSE(way.winched_us.has_value());
}

TEST(JobWay, AHoleIsTimeUnseenAndNeverKilometres) {
  JobRecord record;
  for (int s = 0; s <= 600; ++s) {
    if (s < 320 || s > 380) record.lines.push_back(fix(s, 10));
  }
  record.lines.push_back(wheels(300, v1::Wheels::DECK));
  record.lines.push_back(wheels(400, v1::Wheels::GROUND));
  const JobWay way = way_of(record);
  EXPECT_NEAR(*way.loaded_km, 0.38, 1e-9);  // 62 s of the 100 are a hole.
  EXPECT_EQ(way.unseen_us, 62'000'000);
}

TEST(JobWay, NoFixIsNotZeroKilometres) {
  JobRecord record;
  record.lines.push_back(wheels(300, v1::Wheels::DECK));
  EXPECT_FALSE(way_of(record).loaded_km.has_value());
}

// From 300 N on until under 150 N, as the judge's line.pulling (procedures.md).
TEST(JobWay, WinchMinutesHaveTheJudgesThreshold) {
  JobRecord record;
  const double pull[] = {60, 299, 301, 900, 200, 149, 200, 60};
  for (int i = 0; i < 8; ++i) {
    v1::Observation line = fix(10 * i, 0);
    line.clear_fix();
    line.mutable_sample()->set_signal("line.pull");
    line.mutable_sample()->set_value(pull[i]);
    record.lines.push_back(line);
  }
  EXPECT_EQ(*way_of(record).winched_us, 30'000'000);
}

std::vector<int64_t> departures_of(const JobRecord& record) {
  auto seconds = gather_facts(record).departures;
  for (int64_t& at : seconds) at = (at - 1802959200'000'000) / 1'000'000;  // 2027-02-18T14:00:00Z
  return seconds;
}

v1::Observation motion(int second, bool moving) {
  v1::Observation line = wheels(second, v1::Wheels::DECK);
  line.mutable_truck_motion()->set_moving(moving);
  return line;
}

// Over 0.5 km/h for sure: 0.139 m/s under the speed less 1.645 of its deviation (vocabulary.md 4).
TEST(Departures, AreToldByTheReceiverWhereNobodySpeaksOfThem) {
  JobRecord record;
  record.lines.push_back(wheels(100, v1::Wheels::DECK));
  record.lines.push_back(wheels(500, v1::Wheels::GROUND));
  record.lines.push_back(wheels(550, v1::Wheels::GROUND));
  // Before it was aboard, and not surely moving.
  for (int s = 0; s < 100; s += 10) record.lines.push_back(fix(s, 10));
  record.lines.push_back(fix(150, 0.45));
  EXPECT_TRUE(departures_of(record).empty());
  // A stop at a light is no second one.
  for (const int s : {210, 220, 300, 310}) record.lines.push_back(fix(s, 10));
  record.lines.push_back(fix(250, 0));
  record.lines.push_back(fix(540, 10));  // Off the deck again.
  EXPECT_THAT(departures_of(record), testing::ElementsAre(210));
  EXPECT_EQ(gather_facts(record).travel, gather_facts(record).departures.front());
  record.lines.back().mutable_fix()->set_speed_sd_mps(0.1);
  record.lines[4 + 9].mutable_fix()->set_speed_sd_mps(0.05);  // 0.45 - 0.08 is over 0.139.
  EXPECT_THAT(departures_of(record), testing::ElementsAre(150));
}

TEST(Departures, AreThoseSaidWhereSomebodyDid) {
  JobRecord record;
  record.lines.push_back(motion(50, true));
  record.lines.push_back(wheels(100, v1::Wheels::DECK));
  record.lines.push_back(motion(200, true));
  record.lines.push_back(motion(250, false));
  record.lines.push_back(motion(300, true));
  record.lines.push_back(wheels(500, v1::Wheels::GROUND));
  record.lines.push_back(motion(550, true));
  record.lines.push_back(fix(150, 10));
  EXPECT_THAT(departures_of(record), testing::ElementsAre(200, 300));
}

TEST(Sheet, OneTimeLineForPageAndRow) {
  const Json json = sheet_json(sample_job(), sample_options());
  const auto html = sheet_html(json);
  ASSERT_TRUE(html.has_value()) << html.error().message;
  const std::string text = visible_text(*html);
  const std::string csv = sheet_csv(json);
  size_t seen = 0;
  for (const auto& moment : json.at("moments")) {
    EXPECT_THAT(text, HasSubstr(moment.at("words").get<std::string>()));
    const std::string utc = moment.at("utc");
    if (utc.empty()) continue;
    ++seen;
    EXPECT_THAT(text, HasSubstr(utc));
    EXPECT_THAT(csv, HasSubstr(utc));
  }
  EXPECT_GE(seen, 5u);
  const auto known = figures_in(all_strings(json));
  for (const auto& figure : figures_in(text)) EXPECT_TRUE(known.contains(figure)) << figure;
}

TEST(Sheet, RowAndColumnNamesAreOneToOne) {
  const std::string csv = sheet_csv(sheet_json(sample_job(), sample_options()));
  const size_t first = csv.find("\r\n") + 2, second = csv.find("\r\n", first) + 2;
  const auto commas = [](const std::string& text) {
    size_t n = 0;
    bool quoted = false;
    for (const char c : text) {
      if (c == '"') quoted = !quoted;
      n += c == ',' && !quoted;
    }
    return n;
  };
  EXPECT_EQ(commas(csv.substr(first, second - first)), commas(csv.substr(second)));
  EXPECT_THAT(csv, HasSubstr("number,job_id,truck,vehicle,work,people,opened_utc,arrived_utc"));
}

TEST(Sheet, WhatNobodyRecordedIsSaid) {
  JobRecord record = sample_job();
  std::erase_if(record.lines, [](const v1::Observation& line) { return line.has_arrived(); });
  const Json json = sheet_json(record, sample_options());
  EXPECT_EQ(json.at("moments").at(1).at("local"), "not on record");
  EXPECT_EQ(json.at("amounts").at(0).at("figure"), "");
}

TEST(Sheet, HostileTextIsHarmlessAndShort) {
  JobRecord record = sample_job();
  record.number = "<script>alert(1)</script>\u202Egpj" + std::string(10'000, 'w');
  for (auto& line : record.lines) {
    if (line.has_opened()) line.mutable_opened()->set_vehicle("=cmd|'/c calc'!A1");
  }
  const Json json = sheet_json(record, sample_options());
  const auto html = sheet_html(json);
  ASSERT_TRUE(html.has_value()) << html.error().message;
  EXPECT_THAT(*html, Not(HasSubstr("<script>")));
  EXPECT_THAT(*html, Not(HasSubstr("\u202E")));
  EXPECT_LT(html->size(), 20'000u);
  EXPECT_THAT(sheet_csv(json), HasSubstr(",'=cmd|"));
}

// OWASP "CSV Injection": = + - @, tab and carriage return begin a formula; a number may keep its
// sign.
TEST(Csv, FormulasAreTextAndNumbersStayNumbers) {
  for (const char* text : {"=1+1", "+cmd", "-cmd", "@SUM(A1)", "\tx"})
    EXPECT_THAT(csv_field(text), HasSubstr("'")) << text;
  EXPECT_EQ(csv_field("-12.5"), "-12.5");
  EXPECT_EQ(csv_field("-"), "-");
  EXPECT_EQ(csv_field("a,\"b\""), "\"a,\"\"b\"\"\"");
}

}  // namespace
}  // namespace fairlead::reports
