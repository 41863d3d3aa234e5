// The claim report as a whole: figures, blocks, hostile text, same bytes twice.
#include <gmock/gmock.h>

#include "reports/claim/claim_report.h"
#include "reports/claim/facts.h"
#include "reports/claim/finding_words.h"
#include "tests/unit/reports/page_text.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

using testing::HasSubstr;
using testing::Not;

struct Page {
  Json json;
  std::string html, text;
};

Page page_of(const JobRecord& record, const v1::Claim& claim = sample_claim(),
             const ReportOptions& options = sample_options()) {
  const auto table = shipped_allegation_table();
  const auto json = claim_report_json(record, claim, *table, options);
  EXPECT_TRUE(json.has_value()) << json.error().message;
  const auto html = claim_report_html(*json, record.attachments);
  EXPECT_TRUE(html.has_value()) << html.error().message;
  return {*json, *html, visible_text(*html)};
}

TEST(ClaimPage, EveryFigureOnThePageStandsInTheJson) {
  const Page page = page_of(sample_job());
  const auto known = figures_in(all_strings(page.json));
  const auto printed = figures_in(page.text);
  EXPECT_GT(printed.size(), 100u);
  for (const auto& figure : printed) EXPECT_TRUE(known.contains(figure)) << figure;
}

TEST(ClaimPage, NineBlocksInOrderAndTheFixedWords) {
  const Page page = page_of(sample_job());
  size_t at = 0;
  for (const char* block :
       {"Claim report", "The claim, in the claimant's words", "Answer", "Shows against it",
        "Shows for it", "Does not show", "Measured facts", "Pictures of front lip", "Custody",
        "What would settle it", "The record", "Answers in full", "Findings", "Time line", "Charts",
        "Gaps", "Equipment", "Pictures"}) {
    const size_t found = page.text.find(block, at);
    ASSERT_NE(found, std::string::npos) << block;
    at = found;
  }
  EXPECT_THAT(page.text, HasSubstr("Not legal advice."));
  EXPECT_THAT(page.text,
              HasSubstr("deviated: outside the limit. unproven: not shown by the record"));
  EXPECT_THAT(page.text, HasSubstr("Nether Plum Mutual countersigned head 48,911"));
  EXPECT_THAT(page.text, HasSubstr("39 days before the claim"));
  EXPECT_THAT(page.text, HasSubstr("14.2 m (13.9 to 14.5)"));
  EXPECT_EQ(page.json.at("record").at("fingerprint").size(), 8u);
  EXPECT_LE(page.json.at("measured").at("rows").size(), 5u);
}

TEST(ClaimPage, UnprovenIsNeverShownAsMet) {
  const Page page = page_of(sample_job());
  for (const auto& row : page.json.at("findings").at("rows")) {
    if (row.at("rule") != "keys_accounted") continue;
    EXPECT_EQ(row.at("verdict"), "unproven");
    EXPECT_EQ(row.at("reason"), "nothing on record, or a hole in it");
    return;
  }
  FAIL() << "finding not listed";
}

TEST(ClaimPage, NoPictureIsSaidInWords) {
  v1::Claim claim = sample_claim();
  claim.mutable_allegation()->DeleteSubrange(0, 2);
  const Page page = page_of(sample_job({.spot_pictures = false}), claim);
  EXPECT_THAT(page.text, HasSubstr("No still picture of this place before first touch exists. "
                                   "The film round the car, P1, is of "));
  EXPECT_THAT(page.text, HasSubstr("No picture at release exists."));
}

TEST(ClaimPage, AnOrderIsPutInWords) {
  judge::Finding finding;
  finding.limit = "clamp.negative.off before clamp.positive.off";
  EXPECT_EQ(limit_words(finding), "negative clamp off before positive clamp off");
  finding.limit = "at least 4 before first_touch";
  EXPECT_EQ(limit_words(finding), "at least 4 before first touch");
}

TEST(ClaimPage, PicturesHandedInLaterDoNotStretchTheJob) {
  JobRecord record = sample_job();
  const JobFacts before = gather_facts(record);
  ASSERT_TRUE(before.closed);
  v1::Observation late = record.lines.back();
  late.mutable_photo()->set_view("front");
  late.set_source("desk");
  late.set_time("2031-01-01T00:00:00Z");
  record.lines.push_back(late);
  EXPECT_EQ(gather_facts(record).end_us, before.end_us);
}

TEST(ClaimPage, OneActWithTwoFindingsIsGrouped) {
  JobRecord record = sample_job();
  for (auto& f : record.findings) {
    if (f.rule == "order_off") f.evidence = {{"line", 900, "critical"}};
  }
  EXPECT_THAT(page_of(record).text, HasSubstr("One act: F2 and F4."));
  // A picture missed at the same moment is another act.
  for (auto& f : record.findings) {
    if (f.rule == "order_off") f.unit = "items";
  }
  EXPECT_THAT(page_of(record).text, Not(HasSubstr("One act:")));
  EXPECT_THAT(page_of(sample_job()).text, Not(HasSubstr("One act:")));
}

// Figures are rounded outward for the reader, never to a zero that hides the sign.
TEST(ClaimPage, LongFiguresAreRoundedOutward) {
  JobRecord record = sample_job();
  for (auto& f : record.findings) {
    if (f.rule != "distance") continue;
    f.margin_lo = "-15.811", f.margin_best = "-4.189", f.margin_hi = "-0.012";
    f.value_lo = "13.988", f.value_best = "14.189", f.value_hi = "25.811";
  }
  const Page page = page_of(record);
  for (const auto& row : page.json.at("findings").at("rows")) {
    if (row.at("rule") != "distance") continue;
    EXPECT_EQ(row.at("value"), "14.2 m (13.9 to 25.9)");
    EXPECT_EQ(row.at("margin"), "-4.2 m (-15.9 to -0.012)");
  }
}

TEST(ClaimPage, LimitLinesStandInTheCharts) {
  const Page page = page_of(sample_job());
  std::string lines;
  for (const auto& chart : page.json.at("charts"))
    lines += all_strings(chart.at("plot").at("limits"));
  EXPECT_THAT(lines, HasSubstr("limit at most 15 V (window)"));
  EXPECT_THAT(lines, HasSubstr("limit under 5.4 kN (rolls_freely)"));
}

TEST(ClaimPage, UnprovenMeasurementsAreNoMeasuredFacts) {
  JobRecord record = sample_job();
  for (auto& f : record.findings) f.verdict = judge::Verdict::kUnproven;
  EXPECT_FALSE(page_of(record).json.at("measured").at("has_rows").get<bool>());
}

TEST(ClaimPage, NotCountersignedAndMissingEntriesAreSaid) {
  JobRecord record = sample_job();
  record.record.countersigned.reset();
  record.record.entries_missing = 2;
  const Page page = page_of(record);
  EXPECT_THAT(page.text, HasSubstr("Not yet countersigned"));
  EXPECT_THAT(page.text, HasSubstr("212 of 214, 2 missing"));
}

TEST(ClaimPage, CustodyWithoutTakingIsAGap) {
  JobRecord record = sample_job();
  std::erase_if(record.lines, [](const v1::Observation& line) {
    return line.has_custody() && line.custody().event() == v1::Custody::TAKEN;
  });
  const Page page = page_of(record);
  EXPECT_FALSE(page.json.at("custody").at("whole").get<bool>());
  EXPECT_THAT(page.text, HasSubstr("no taking of custody recorded"));
}

TEST(ClaimPage, TheTimeLineShowsClockStepsAndOneClockWhereThereIsOne) {
  JobRecord record = sample_job();
  const int64_t arrived = 1802865125'000'000;  // 11:52:05Z, as sample_job has it.
  record.clock_steps = {{arrived + 9'000'000, arrived + 1'000'000, 77}};
  ReportOptions options = sample_options();
  options.offsets = {};
  const Page utc = page_of(record, sample_claim(), options);
  EXPECT_THAT(utc.html, HasSubstr("was set back by 8 s"));
  EXPECT_THAT(utc.html, HasSubstr("times after it are uncertain by as much"));
  EXPECT_THAT(utc.html, Not(HasSubstr("<th>UTC</th><th>UTC</th>")));
  options.offsets = {{0, 60}};
  EXPECT_THAT(page_of(record, sample_claim(), options).html, HasSubstr("<th>UTC</th>"));
  // Steps take no number: the charts name the marks by theirs.
  size_t numbered = 0;
  for (const auto& row : utc.json.at("timeline").at("rows")) numbered += row.at("number") != "";
  EXPECT_EQ(utc.json.at("timeline").at("rows").size(), numbered + 1);
}

TEST(ClaimPage, BracketsStandBesideTheTimesOrTheWordsThatThereIsNone) {
  JobRecord record = sample_job();
  const Page none = page_of(record, sample_claim(), sample_options());
  EXPECT_THAT(none.html, HasSubstr("Not countersigned: no bracket."));
  const int64_t before = 1802840000'000'000;
  record.brackets.assign(record.lines.size(), {before, before + 6 * 3'600'000'000});
  record.brackets.back().not_after_us.reset();
  const Page page = page_of(record, sample_claim(), sample_options());
  EXPECT_THAT(page.html, Not(HasSubstr("no bracket.")));
  const Json& brackets = page.json.at("timeline").at("brackets");
  ASSERT_GE(brackets.at("rows").size(), 1U);
  EXPECT_EQ(brackets.at("rows").at(0).at("wide"), "6 h 0 min");
  EXPECT_TRUE(page.json.at("timeline").at("rows").at(0).at("not_before").is_string());
}

TEST(ClaimPage, FilesSaySinceWhenRelativeToTheJob) {
  JobRecord record = sample_job();
  record.files[0].leaf = 12;
  record.files[0].by = "ozzlewick/admin";
  record.files[1].since_us = 1802865120'000'000 + 12LL * 86'400'000'000;
  record.files[0].truck_since_us = 1802865120'000'000 - 86'400'000'000;
  const Page page = page_of(record, sample_claim(), sample_options());
  const Json& files = page.json.at("equipment").at("files");
  EXPECT_THAT(files.at(0).at("words").get<std::string>(), HasSubstr("40 days before the job"));
  EXPECT_THAT(files.at(0).at("words").get<std::string>(),
              HasSubstr("(entry 12 by ozzlewick/admin)"));
  EXPECT_EQ(files.at(0).at("late"), false);
  EXPECT_THAT(files.at(1).at("words").get<std::string>(),
              HasSubstr("put on record 12 days after the job"));
  EXPECT_EQ(files.at(1).at("late"), true);
  EXPECT_THAT(page.text, HasSubstr("12 days after the job"));
  // Page 1 too: which procedure, in force on the truck since when, on record since when.
  EXPECT_THAT(
      page.json.at("report").at("procedures").get<std::string>(),
      HasSubstr("boost 1.0 in force since 16 Feb 2027, on record since 8 Jan 2027, 40 days"));
  EXPECT_THAT(page.text, HasSubstr("boost 1.0 in force since 16 Feb 2027"));
}

TEST(ClaimPage, HostileTextIsHarmlessAndLegible) {
  const std::string hostile =
      "</script><script>alert(1)</script><img src=x onerror=alert(1)> {{report.title}} \" ' & "
      "\xE2\x80\xAE"
      "detrever \xE2\x81\xA6 \xF0\x9F\x98\x80 \xD7\xA9\xD7\x9C\xD7\x95\xD7\x9D";
  SampleOptions options;
  options.note = hostile;
  JobRecord record = sample_job(options);
  record.number = hostile;
  record.cards["card-3f"] = hostile;
  record.record.neighbours = {hostile};
  v1::Claim claim = sample_claim();
  claim.set_words(hostile + std::string(10000, 'x'));
  claim.set_claimant(hostile);
  claim.set_sum(hostile);
  claim.add_document(hostile);
  claim.mutable_allegation(0)->set_words(hostile);
  claim.mutable_allegation(2)->set_spot(hostile);
  ReportOptions report = sample_options();
  report.issuer = hostile;
  const Page page = page_of(record, claim, report);
  EXPECT_THAT(page.html, Not(HasSubstr("<script")));
  EXPECT_THAT(page.html, Not(HasSubstr("<img src=x")));
  EXPECT_THAT(page.html, Not(HasSubstr("\xE2\x80\xAE")));
  EXPECT_THAT(page.html, Not(HasSubstr("\xE2\x81\xA6")));
  EXPECT_THAT(page.text, HasSubstr("[U+202E]detrever [U+2066]"));
  EXPECT_THAT(page.text, HasSubstr("<script>alert(1)</script>"));
  EXPECT_THAT(page.text, HasSubstr("{{report.title}}"));
  EXPECT_THAT(page.text, HasSubstr("\xF0\x9F\x98\x80 \xD7\xA9"));
  // The claimant's own words stay word for word in the JSON, as ASCII escapes.
  EXPECT_EQ(page.json.at("claim").at("verbatim").get<std::string>(), claim.words());
  for (const char c : json_bytes(page.json)) ASSERT_LT(static_cast<unsigned char>(c), 0x80);
}

TEST(ClaimPage, SameInputGivesTheSameBytes) {
  const Page first = page_of(sample_job());
  const Page second = page_of(sample_job());
  EXPECT_EQ(first.html, second.html);
  EXPECT_EQ(json_bytes(first.json), json_bytes(second.json));
}

TEST(ClaimPage, RefusalsNameTheFieldAndTheRemedy) {
  const auto table = shipped_allegation_table();
  v1::Claim claim = sample_claim();
  claim.clear_allegation();
  auto none = claim_report_json(sample_job(), claim, *table, sample_options());
  ASSERT_FALSE(none.has_value());
  EXPECT_THAT(none.error().message, HasSubstr("claim.allegation: none"));
  claim.add_allegation()->set_kind("gear_box");
  auto unknown = claim_report_json(sample_job(), claim, *table, sample_options());
  ASSERT_FALSE(unknown.has_value());
  EXPECT_THAT(unknown.error().message, HasSubstr("use one of marks"));
  JobRecord empty;
  ASSERT_FALSE(claim_report_json(empty, sample_claim(), *table, sample_options()).has_value());
}

TEST(ClaimPage, OnlyRealPicturesAreEmbedded) {
  std::map<std::string, Attachment> files;
  files["a"] = {"image/png", "<svg onload=alert(1)>"};
  files["b"] = {"text/html", striped_png(8, 8, 2)};
  EXPECT_EQ(picture_data(files, "a"), "");
  EXPECT_THAT(picture_data(files, "b"), testing::StartsWith("data:image/png;base64,iVBORw0KGgo"));
  EXPECT_EQ(picture_data(files, "c"), "");
}

}  // namespace
}  // namespace fairlead::reports
