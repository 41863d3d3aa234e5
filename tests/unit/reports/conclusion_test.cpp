// Which of the five fixed conclusions an allegation gets, and that no column stays empty.
#include "reports/claim/conclusion.h"

#include <gtest/gtest.h>

#include "reports/claim/claim_report.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

using judge::Basis;
using judge::Verdict;

class Claimed {
 public:
  explicit Claimed(std::vector<judge::Finding> findings = all_inside()) {
    record_ = sample_job();
    record_.findings = std::move(findings);
  }
  JobRecord& record() { return record_; }
  judge::Finding& rule(const std::string& id) {
    for (auto& f : record_.findings) {
      if (f.rule == id) return f;
    }
    ADD_FAILURE() << id;
    return record_.findings.front();
  }
  void say(const std::string& line_kind, int seq, int64_t at_us) {
    v1::Observation line = record_.lines.front();
    line.set_seq(static_cast<uint32_t>(seq));
    line.set_time(format(at_us));
    auto* condition = line.mutable_condition();
    condition->set_place("front lip");
    condition->set_kind("scrape");
    condition->set_size_mm(40);
    condition->set_words("fresh");
    condition->set_when(line_kind == "BEFORE" ? v1::When::BEFORE : v1::When::AFTER);
    record_.lines.push_back(line);
  }
  Json answer(const std::string& kind, const std::string& spot = "") {
    const auto table = shipped_allegation_table();
    v1::Claim claim = sample_claim();
    claim.clear_allegation();
    auto* allegation = claim.add_allegation();
    allegation->set_kind(kind);
    allegation->set_words("it was so");
    allegation->set_spot(spot);
    const auto json = claim_report_json(record_, claim, *table, sample_options());
    EXPECT_TRUE(json.has_value()) << json.error().message;
    return json->at("answers").at(0);
  }
  std::string conclusion(const std::string& kind, const std::string& spot = "") {
    return answer(kind, spot).at("conclusion");
  }

 private:
  static std::string format(int64_t seconds) {
    return seconds < 1000 ? "2027-02-17T11:53:30Z" : "2027-02-17T12:38:20Z";
  }
  JobRecord record_;
};

TEST(Conclusion, ActMeasuredInsideContradicts) {
  EXPECT_EQ(Claimed().conclusion("rolled_too_far"), "The record contradicts it");
  EXPECT_EQ(Claimed().conclusion("clamp_order"), "The record contradicts it");
}

TEST(Conclusion, HarmMeasuredInsideIsUnlikelyNeverContradicted) {
  EXPECT_EQ(Claimed().conclusion("drive_unit"), "The record makes it unlikely");
}

TEST(Conclusion, AnythingNotShownOrOnlySaidDoesNotDecide) {
  Claimed said;
  said.rule("distance").basis = Basis::kSaid;
  EXPECT_EQ(said.conclusion("rolled_too_far"), "The record does not decide it");
  Claimed open;
  open.rule("speed").verdict = Verdict::kUnproven;
  EXPECT_EQ(open.conclusion("rolled_too_far"), "The record does not decide it");
  Claimed provisional;
  provisional.rule("distance").settled = false;
  EXPECT_EQ(provisional.conclusion("rolled_too_far"), "The record does not decide it");
  EXPECT_EQ(Claimed().conclusion("third_party"), "The record does not decide it");
}

TEST(Conclusion, MeasuredDeviationSupportsTheActAndTheHarmInPart) {
  EXPECT_EQ(Claimed(too_far()).conclusion("rolled_too_far"), "The record supports it");
  EXPECT_EQ(Claimed(too_far()).conclusion("drive_unit"), "The record supports it in part");
}

TEST(Conclusion, DeviationOnSomebodysWordSupportsInPart) {
  Claimed claimed(too_far());
  claimed.rule("order_off").basis = Basis::kSaid;
  EXPECT_EQ(claimed.conclusion("clamp_order"), "The record supports it in part");
}

// An instrument whose calibration has run out is what an adjuster sets aside.
TEST(Conclusion, NoCalibrationWeighsOneStepLess) {
  Claimed claimed;
  for (auto& sensor : *claimed.record().register_files.mutable_sensor()) {
    sensor.set_valid_until("2027-01-31");
  }
  EXPECT_EQ(claimed.conclusion("rolled_too_far"), "The record makes it unlikely");
  EXPECT_EQ(claimed.conclusion("drive_unit"), "The record does not decide it");
}

// The scenario's J-110: no picture before touch, a mark claimed; silent, neither for nor against.
TEST(Conclusion, MissingPicturesAreSilenceNotSupport) {
  Claimed claimed;
  claimed.rule("photos_before").verdict = Verdict::kDeviated;
  claimed.rule("photos_before").margin_best = "-4";
  const Json answer = claimed.answer("marks", "bumper");
  EXPECT_EQ(answer.at("conclusion"), "The record does not decide it");
  EXPECT_EQ(answer.at("in_favour").at(0).at("words"), "Nothing found.");
}

TEST(Conclusion, MarkListedBeforeOrOnlyAfter) {
  Claimed before;
  before.say("BEFORE", 900, 0);
  EXPECT_EQ(before.conclusion("underside", "front lip"), "The record makes it unlikely");
  Claimed after;
  after.say("AFTER", 900, 2000);
  EXPECT_EQ(after.conclusion("underside", "front lip"), "The record supports it in part");
}

TEST(Conclusion, RuleThatDoesNotApplyCountsForNothing) {
  Claimed claimed;
  for (auto& f : claimed.record().findings) {
    f.applies = judge::Applies::kNo;
    f.verdict = Verdict::kNone;
  }
  const Json answer = claimed.answer("rolled_too_far");
  EXPECT_EQ(answer.at("conclusion"), "The record does not decide it");
  EXPECT_EQ(answer.at("first"), "No rule of this job measures what is alleged.");
}

TEST(Conclusion, EveryKindFillsEveryColumnAndNamesWhatWouldSettleIt) {
  const auto table = shipped_allegation_table();
  ASSERT_TRUE(table.has_value()) << table.error().message;
  for (const bool outside : {false, true}) {
    Claimed claimed(outside ? too_far() : all_inside());
    for (const auto& kind : table->rows.kind()) {
      SCOPED_TRACE(kind.id());
      const Json answer = claimed.answer(kind.id(), "front lip");
      for (const char* column : {"against", "in_favour", "silent", "settle"}) {
        ASSERT_FALSE(answer.at(column).empty()) << column;
        EXPECT_FALSE(answer.at(column).at(0).at("words").get<std::string>().empty());
      }
      EXPECT_FALSE(answer.at("first").get<std::string>().empty());
      EXPECT_FALSE(answer.at("second").get<std::string>().empty());
      // Causation is never claimed.
      const std::string all = answer.dump();
      for (const char* word : {"caused", "because of", "due to our", "our fault"}) {
        EXPECT_EQ(all.find(word), std::string::npos) << word;
      }
      EXPECT_EQ(all.find('{' + std::string("rule:")), std::string::npos);
    }
  }
}

}  // namespace
}  // namespace fairlead::reports
