// A claim from its opening to its report, and a summary, on a real base in a temporary folder.
#include "daemon/desk/claims.h"

#include <gmock/gmock.h>

#include <fstream>

#include "clients/verify/pdf_bundle.h"
#include "clients/verify/steps.h"
#include "daemon/desk/summaries.h"
#include "daemon/record/bundle.h"
#include "fairlead/v1/record.pb.h"
#include "reports/json.h"
#include "tests/unit/desk/small_desk.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::desk {
namespace {

using testing::Contains;
using testing::HasSubstr;
using testing::IsEmpty;

// Bodies of the REPORT_ISSUED entries a bundle shows.
std::vector<std::string> issued_in(const std::string& bytes) {
  std::vector<std::string> out;
  const auto bundle = record::read_bundle(bytes);
  EXPECT_TRUE(bundle) << bundle.error().message;
  if (!bundle) return out;
  for (const auto& entry : bundle->entries) {
    const auto header = record::decode_header(entry.entry);
    if (header && header->kind == record::Kind::kReportIssued) out.emplace_back(entry.body);
  }
  return out;
}

class ClaimsTest : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    base_ = new SmallDesk;
    for (const char* id : {"boost", "load"}) {
      base_->put_file(std::string("daemon/judge/procedures/") + id + ".textproto");
    }
    for (const char* name : {"vehicles", "gear", "trucks", "sensors"}) {
      base_->put_file(std::string("clients/sim/fleet/") + name + ".textproto");
    }
    const auto lines = reports::sample_job().lines;
    const auto fed = base_->desk().import.feed(lines);
    ASSERT_TRUE(fed.has_value()) << fed.error().message;
    ASSERT_EQ(fed->recorded, lines.size());
    for (const unsigned stripe : {6u, 9u, 10u}) {
      ASSERT_TRUE(base_->desk().ledger().put_attachment(reports::striped_png(120, 80, stripe)));
    }
    ASSERT_TRUE(base_->judged("ow-0412"));
  }
  static void TearDownTestSuite() { delete base_; }

  static Desk& desk() { return base_->desk(); }
  static v1::OpenClaimRequest request() {
    v1::OpenClaimRequest request;
    *request.mutable_claim() = reports::sample_claim();
    request.mutable_claim()->clear_claim_id();
    request.mutable_claim()->set_job_id("ow-0412");
    return request;
  }
  static size_t entries(record::Kind kind) {
    return desk().ledger().entries_of_kind(kind, 0, 1000)->size();
  }

  static SmallDesk* base_;
};
SmallDesk* ClaimsTest::base_ = nullptr;

TEST_F(ClaimsTest, OpeningWritesClaimAndHold) {
  const size_t claims = entries(record::Kind::kClaim);
  const size_t holds = entries(record::Kind::kHold);
  const auto opened = open_claim(desk(), request());
  ASSERT_TRUE(opened.has_value()) << opened.error().message;
  EXPECT_EQ(entries(record::Kind::kClaim), claims + 1);
  EXPECT_EQ(entries(record::Kind::kHold), holds + 1);
  EXPECT_TRUE(opened->claim().on_hold());
  v1::GetClaimRequest get;
  get.set_claim_id(opened->claim().claim_id());
  const auto again = get_claim(desk(), get);
  ASSERT_TRUE(again.has_value()) << again.error().message;
  EXPECT_EQ(again->claim().words(), reports::sample_claim().words());
  EXPECT_EQ(again->claim().claimant(), "the owner of the car");
  EXPECT_EQ(again->claim().received(), "2027-03-30T00:00:00.000000Z");
  EXPECT_EQ(again->claim().allegation(2).spot(), "front lip");
  // The claimant's name stands in no body but a card.
  const auto claims_stored = desk().ledger().entries_of_kind(record::Kind::kClaim, 0, 1000);
  ASSERT_TRUE(claims_stored.has_value());
  for (const auto& entry : *claims_stored) {
    EXPECT_EQ(entry.body.find("the owner of the car"), std::string::npos);
  }
}

TEST_F(ClaimsTest, BadFieldsAreRefusedAndNothingIsWritten) {
  const uint64_t before = entries(record::Kind::kClaim);
  auto bad = request();
  bad.mutable_claim()->clear_words();
  EXPECT_THAT(open_claim(desk(), bad).error().message, HasSubstr("words: empty"));
  bad = request();
  bad.mutable_claim()->mutable_allegation(0)->set_kind("gear_box");
  EXPECT_THAT(open_claim(desk(), bad).error().message, HasSubstr("use one of marks"));
  bad = request();
  bad.mutable_claim()->set_received("yesterday");
  EXPECT_THAT(open_claim(desk(), bad).error().message, HasSubstr("write 2027-03-30"));
  bad = request();
  bad.mutable_claim()->set_job_id("nobody");
  EXPECT_EQ(open_claim(desk(), bad).error().code, Code::kNotFound);
  bad = request();
  bad.mutable_claim()->set_words("\xFF");
  EXPECT_THAT(open_claim(desk(), bad).error().message, HasSubstr("not UTF-8"));
  EXPECT_EQ(entries(record::Kind::kClaim), before);
}

TEST_F(ClaimsTest, ReportStandsUnderTheSealAndOnRecord) {
  const auto opened = open_claim(desk(), request());
  ASSERT_TRUE(opened.has_value()) << opened.error().message;
  v1::WriteClaimReportRequest ask;
  ask.set_claim_id(opened->claim().claim_id());
  ask.set_draft(true);
  const size_t before = entries(record::Kind::kReportIssued);
  const auto draft = write_claim_report(desk(), ask);
  ASSERT_TRUE(draft.has_value()) << draft.error().message;
  EXPECT_EQ(entries(record::Kind::kReportIssued), before);
  EXPECT_THAT(draft->file(0).content(), HasSubstr("Drafts leave no entry"));

  ask.set_draft(false);
  const auto written = write_claim_report(desk(), ask);
  ASSERT_TRUE(written.has_value()) << written.error().message;
  ASSERT_EQ(written->file_size(), 5);
  const auto issued = desk().ledger().entry(written->issued_leaf());
  v1::ReportIssuedBody body;
  ASSERT_TRUE(issued && body.ParseFromString(issued->body));
  EXPECT_EQ(hex_of(body.html_sha256()), written->file(0).sha256());
  EXPECT_EQ(hex_of(body.pdf_sha256()), written->file(2).sha256());
  EXPECT_EQ(hex_of(body.json_sha256()), written->file(3).sha256());
  const auto bundle = record::read_bundle(written->file(4).content());
  ASSERT_TRUE(bundle.has_value()) << bundle.error().message;
  bool inside = false;
  for (const auto& file : bundle->files)
    inside = inside || file.bytes == written->file(3).content();
  EXPECT_TRUE(inside);
  // The bundle holds the very entry that names its pages; a draft's holds none.
  EXPECT_THAT(issued_in(written->file(4).content()), Contains(issued->body));
  EXPECT_THAT(issued_in(draft->file(4).content()), IsEmpty());
  for (const auto& file : written->file()) {
    std::ifstream in(written->folder() + "/" + file.name(), std::ios::binary);
    EXPECT_EQ(std::string(std::istreambuf_iterator<char>(in), {}), file.content()) << file.name();
  }
}

// What an adjuster does: the PDF as it came, the policy pinned once, nothing else.
TEST_F(ClaimsTest, TheBundleInsideThePdfExtractsAndVerifies) {
  const auto opened = open_claim(desk(), request());
  ASSERT_TRUE(opened.has_value()) << opened.error().message;
  v1::WriteClaimReportRequest ask;
  ask.set_claim_id(opened->claim().claim_id());
  const auto written = write_claim_report(desk(), ask);
  ASSERT_TRUE(written.has_value()) << written.error().message;
  ASSERT_EQ(written->file(1).name(), "claim-report.pdf");
  const auto bundle = verifier::bundle_of_pdf(written->file(1).content());
  ASSERT_TRUE(bundle.has_value()) << bundle.error().message;
  EXPECT_EQ(*bundle, written->file(4).content());
  const auto policy = verifier::pin({desk().office.roster_note()},
                                    record::format_verifier_key(desk().office.roster().log), {}, 1);
  ASSERT_TRUE(policy.has_value()) << policy.error().message;
  const std::vector<verifier::PagesFile> pages = {
      {"claim-report-plain.pdf", sha256(written->file(2).content())},
      {"claim-report.html", sha256(written->file(0).content())}};
  const auto verdicts = verifier::check_bundle(*bundle, *policy, pages);
  // 1: proven with notes; nobody has countersigned this base's heads.
  EXPECT_EQ(static_cast<int>(verdicts.exit()), 1) << verifier::to_text(verdicts);
}

// The invented job: 9.1 m and 5.1 m in one handling, clamps off in the wrong order by 14 s.
TEST_F(ClaimsTest, RealFindingsAnswerTheClaim) {
  const auto opened = open_claim(desk(), request());
  ASSERT_TRUE(opened.has_value()) << opened.error().message;
  v1::WriteClaimReportRequest ask;
  ask.set_claim_id(opened->claim().claim_id());
  ask.set_paper("LETTER");
  const auto written = write_claim_report(desk(), ask);
  ASSERT_TRUE(written.has_value()) << written.error().message;
  const auto json = reports::Json::parse(written->file(3).content());
  const auto& answers = json.at("answers");
  EXPECT_EQ(answers.at(0).at("conclusion"), "The record supports it in part");
  // The jaws gave no reading but at their changes: the order rests on the operator's word.
  EXPECT_EQ(answers.at(1).at("conclusion"), "The record supports it in part");
  EXPECT_EQ(answers.at(2).at("conclusion"), "The record does not decide it");
  EXPECT_THAT(written->file(0).content(), HasSubstr("fed into the base from a file"));
  if (const char* out = std::getenv("FAIRLEAD_KEEP_REPORTS")) {
    for (const auto& file : written->file()) {
      std::ofstream(std::string(out) + "/" + file.name(), std::ios::binary) << file.content();
    }
  }
}

TEST_F(ClaimsTest, SummaryCountsTheJobAndIsIssued) {
  v1::WriteSummaryRequest ask;
  ask.set_from("2027-02-01");
  ask.set_to("2027-03-01");
  ask.set_jobs_invoiced(2);
  const auto written = write_summary(desk(), ask);
  ASSERT_TRUE(written.has_value()) << written.error().message;
  const auto json = reports::Json::parse(written->file(2).content());
  EXPECT_EQ(json.at("completeness").at("rows").at(1).at("figure"), "1");
  EXPECT_EQ(json.at("completeness").at("rows").at(1).at("words"), "50.0 % of those invoiced");
  const auto list = list_summaries(desk(), {});
  ASSERT_TRUE(list.has_value());
  EXPECT_EQ(list->summary(list->summary_size() - 1).json_sha256(), written->file(2).sha256());
  ask.set_to("2027-01-01");
  EXPECT_THAT(write_summary(desk(), ask).error().message, HasSubstr("give a later `to`"));
}

}  // namespace
}  // namespace fairlead::desk
