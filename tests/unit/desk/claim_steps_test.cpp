// A claim from finding its job to the export of its whole file, on a real base in a temporary
// folder.
#include "daemon/desk/claim_steps.h"

#include <gmock/gmock.h>
#include <google/protobuf/util/json_util.h>

#include <map>

#include "daemon/base/time_text.h"
#include "daemon/desk/claims.h"
#include "daemon/record/bundle.h"
#include "daemon/watch/stamp.h"
#include "fairlead/v1/claim_step.pb.h"
#include "fairlead/v1/record.pb.h"
#include "reports/json.h"
#include "tests/unit/desk/small_desk.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::desk {
namespace {

using testing::HasSubstr;
using testing::Not;

class ClaimStepsTest : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    base_ = new SmallDesk;
    for (const char* id : {"boost", "load"}) {
      base_->put_file(std::string("daemon/judge/procedures/") + id + ".textproto");
    }
    for (const char* name : {"vehicles", "gear", "trucks", "sensors"}) {
      base_->put_file(std::string("clients/sim/fleet/") + name + ".textproto");
    }
    v1::CardBody card;
    card.set_card_id(std::string(16, '\x5a'));
    card.set_kind(v1::CardBody::VEHICLE);
    card.set_plate("OZ 412-K");
    base_->desk().import.append(record::Kind::kCard, card.SerializeAsString());
    auto lines = reports::sample_job().lines;
    for (auto& line : lines) {
      if (line.has_identified()) line.mutable_identified()->set_card(hex_of(card.card_id()));
    }
    const auto fed = base_->desk().import.feed(lines);
    ASSERT_TRUE(fed.has_value()) << fed.error().message;
    ASSERT_TRUE(base_->judged("ow-0412"));
  }
  static void TearDownTestSuite() { delete base_; }
  static Desk& desk() { return base_->desk(); }

  static v1::Claim opened(const char* received = "2027-03-30", const char* clock = "none") {
    v1::OpenClaimRequest request;
    *request.mutable_claim() = reports::sample_claim();
    request.mutable_claim()->clear_claim_id();
    request.mutable_claim()->set_job_id("ow-0412");
    request.mutable_claim()->set_received(received);
    request.mutable_claim()->set_clock(clock);
    const auto opened = open_claim(desk(), request);
    EXPECT_TRUE(opened.has_value()) << opened.error().message;
    return opened->claim();
  }
  static v1::AddClaimStepRequest step(const v1::Claim& claim, const char* kind, const char* words) {
    v1::AddClaimStepRequest request;
    request.set_claim_id(claim.claim_id());
    request.mutable_step()->set_kind(kind);
    request.mutable_step()->set_words(words);
    return request;
  }
  static v1::Claim added(const v1::AddClaimStepRequest& request) {
    const auto done = add_claim_step(desk(), request);
    EXPECT_TRUE(done.has_value()) << done.error().message;
    return done ? done->claim() : v1::Claim();
  }
  static std::string refused(const v1::AddClaimStepRequest& request) {
    const auto done = add_claim_step(desk(), request);
    EXPECT_FALSE(done.has_value());
    return done ? "" : done.error().message;
  }
  static size_t claim_entries() {
    return desk().ledger().entries_of_kind(record::Kind::kClaim, 0, 1000)->size();
  }
  static std::string found(const char* plate, const char* date, const char* place,
                           const char* truck) {
    v1::FindClaimJobsRequest request;
    request.set_plate(plate);
    request.set_date(date);
    request.set_place(place);
    request.set_truck(truck);
    const auto done = find_claim_jobs(desk(), request);
    if (!done) return done.error().message;
    return done->found().empty() ? "" : done->found(0).job().number() + ": " + done->found(0).why();
  }

  static SmallDesk* base_;
};
SmallDesk* ClaimStepsTest::base_ = nullptr;

TEST_F(ClaimStepsTest, FindsTheJobByPlateDayPlaceAndTruck) {
  EXPECT_THAT(found("oz412k", "", "", ""), HasSubstr("ow-0412: plate on card 5a5a"));
  EXPECT_EQ(found("OZ 413-K", "", "", ""), "");
  EXPECT_EQ(found("", "2027-02-17", "", ""), "ow-0412: the day itself");
  EXPECT_EQ(found("", "2027-02-18", "", ""), "ow-0412: a day beside it");
  EXPECT_EQ(found("", "2027-02-19", "", ""), "");
  EXPECT_EQ(found("", "", "garage", "OW-04"), "ow-0412: truck OW-04, the place is named");
  EXPECT_EQ(found("", "", "harbour", ""), "");
  EXPECT_EQ(found("", "", "", "OW-05"), "");
  EXPECT_THAT(found("", "", "", ""), HasSubstr("nothing is asked for"));
  EXPECT_THAT(found("", "17.2.2027", "", ""), HasSubstr("write 2027-02-17"));
}

TEST_F(ClaimStepsTest, EveryStepIsAnEntryAndNoneIsInTheJobsBundle) {
  const v1::Claim claim = opened();
  const size_t before = claim_entries();
  (void)added(step(claim, "NOTE", "our operator says he is sure"));
  (void)added(step(claim, "ACKNOWLEDGED", "letter of 1 April"));
  auto evidence = step(claim, "EVIDENCE", "their photo");
  evidence.mutable_step()->set_file_name("lip.png");
  evidence.mutable_step()->set_media_type("image/png");
  evidence.set_content(reports::striped_png(20, 20, 3));
  (void)added(evidence);
  auto answer = step(claim, "ANSWER", "the lip only");
  answer.mutable_step()->set_outcome("PARTLY");
  answer.mutable_step()->set_amount("600.00 EUR");
  const v1::Claim after = added(answer);
  EXPECT_EQ(claim_entries(), before + 4);
  ASSERT_EQ(after.step_size(), 4);
  EXPECT_EQ(after.step(0).words(), "our operator says he is sure");
  EXPECT_EQ(after.step(2).sha256(), hex_of(sha256(evidence.content())));
  EXPECT_EQ(after.state(), "PARTLY");
  EXPECT_EQ(after.amount(), "600.00 EUR");
  for (const auto& one : after.step()) EXPECT_TRUE(desk().ledger().entry(one.leaf_index()));
  const auto kept = desk().ledger().attachment(*array_of_hex<32>(after.step(2).sha256(), "sha"));
  EXPECT_EQ(*kept, evidence.content());
  // What the owner notes is his own; the bundle for the other side shows bare headers of it.
  v1::ExportClaimRequest ask;
  ask.set_claim_id(claim.claim_id());
  const auto file = export_claim(desk(), ask);
  ASSERT_TRUE(file.has_value()) << file.error().message;
  const auto& bundle = file->file(file->file_size() - 1);
  ASSERT_EQ(bundle.name(), "bundle.flb");
  EXPECT_TRUE(record::read_bundle(bundle.content()).has_value());
  EXPECT_THAT(bundle.content(), HasSubstr(claim.words()));
  EXPECT_THAT(bundle.content(), Not(HasSubstr("our operator says he is sure")));
  EXPECT_THAT(bundle.content(), Not(HasSubstr("600.00 EUR")));
}

TEST_F(ClaimStepsTest, TheExportHoldsTheWholeFile) {
  const v1::Claim claim = opened();
  auto evidence = step(claim, "EVIDENCE", "");
  evidence.mutable_step()->set_file_name("..\xE2\x80\xAE gpj.pil");
  evidence.set_content("a scan");
  (void)added(evidence);
  v1::WriteClaimReportRequest report;
  report.set_claim_id(claim.claim_id());
  const auto written = write_claim_report(desk(), report);
  ASSERT_TRUE(written.has_value()) << written.error().message;
  // The report names what was handed in, with its fingerprint.
  EXPECT_THAT(written->file(0).content(), HasSubstr(hex_of(sha256("a scan"))));
  v1::ExportClaimRequest ask;
  ask.set_claim_id(claim.claim_id());
  const auto file = export_claim(desk(), ask);
  ASSERT_TRUE(file.has_value()) << file.error().message;
  std::map<std::string, std::string> files;
  for (const auto& one : file->file()) files[one.name()] = one.content();
  EXPECT_EQ(files.at("evidence-1-..____gpj.pil"), "a scan");
  EXPECT_THAT(files.at("claim.txt"), HasSubstr("REPORT"));
  EXPECT_THAT(files.at("claim.txt"), HasSubstr("Not legal advice"));
  EXPECT_THAT(files.at("job.jsonl"), HasSubstr("\"clamp\""));
  v1::Claim again;
  EXPECT_TRUE(google::protobuf::util::JsonStringToMessage(files.at("claim.json"), &again).ok());
  EXPECT_EQ(again.words(), claim.words());
  size_t reports = 0;
  for (const auto& [name, bytes] : files) {
    if (!name.ends_with("-claim-report.pdf")) continue;
    ++reports;
    EXPECT_EQ(bytes, written->file(1).content());
  }
  EXPECT_EQ(reports, 1U);
  // That it went out is the last step.
  EXPECT_EQ(again.step(again.step_size() - 1).kind(), "EXPORT");
}

TEST_F(ClaimStepsTest, DraftsLeaveAStepOnlyWhenTheOwnerSaysSo) {
  const v1::Claim claim = opened();
  const size_t before = claim_entries();
  v1::WriteClaimReportRequest report;
  report.set_claim_id(claim.claim_id());
  report.set_draft(true);
  const auto silent = write_claim_report(desk(), report);
  ASSERT_TRUE(silent.has_value()) << silent.error().message;
  EXPECT_EQ(claim_entries(), before);
  EXPECT_THAT(silent->file(0).content(), HasSubstr("Drafts leave no entry"));
  report.set_record_draft(true);
  const auto said = write_claim_report(desk(), report);
  ASSERT_TRUE(said.has_value()) << said.error().message;
  EXPECT_EQ(claim_entries(), before + 1);
  EXPECT_THAT(said->file(0).content(), HasSubstr("This draft is recorded."));
  v1::GetClaimRequest get;
  get.set_claim_id(claim.claim_id());
  const auto now = get_claim(desk(), get);
  EXPECT_EQ(now->claim().step(0).kind(), "DRAFT");
  EXPECT_EQ(now->claim().step(0).sha256(), said->file(3).sha256());
  report.set_draft(false);
  EXPECT_FALSE(write_claim_report(desk(), report).has_value());
}

TEST_F(ClaimStepsTest, RemindersAreSaidOnceADate) {
  const v1::Claim claim = opened("2027-03-30", "49cfr370");
  ASSERT_EQ(claim.clock(), "49cfr370");
  // Other claims of this base carry no clock.
  const int64_t early = *parse_date_us("2027-04-21"), near = *parse_date_us("2027-04-22");
  EXPECT_EQ(*remind_claims(desk(), early), 0U);
  EXPECT_EQ(*remind_claims(desk(), near), 1U);
  EXPECT_EQ(*remind_claims(desk(), near), 0U);
  EXPECT_EQ(*remind_claims(desk(), near + 86'400'000'000), 0U);
  v1::GetClaimRequest get;
  get.set_claim_id(claim.claim_id());
  const auto now = get_claim(desk(), get);
  const auto& last = now->claim().step(now->claim().step_size() - 1);
  EXPECT_EQ(last.kind(), "REMINDER");
  EXPECT_EQ(last.words(), "acknowledge the claim in writing by 2027-04-29 (49 CFR 370.5)");
  auto off = step(claim, "CLOCK", "");
  off.mutable_step()->set_clock("none");
  EXPECT_TRUE(added(off).due().empty());
}

TEST_F(ClaimStepsTest, NumbersAreNeverGivenTwiceAndStepsTakeNone) {
  const v1::Claim first = opened();
  (void)added(step(first, "NOTE", "one"));
  (void)added(step(first, "NOTE", "two"));
  const int number = std::stoi(first.claim_id().substr(2));
  EXPECT_EQ(std::stoi(opened().claim_id().substr(2)), number + 1);
}

TEST_F(ClaimStepsTest, RefusalsNameTheFieldAndWriteNothing) {
  const v1::Claim claim = opened();
  const size_t before = claim_entries();
  EXPECT_THAT(refused(step(claim, "REMINDER", "x")), HasSubstr("kind: 'REMINDER'"));
  EXPECT_THAT(refused(step(claim, "NOTE", "")), HasSubstr("words: empty"));
  EXPECT_THAT(refused(step(claim, "NOTE", "\xFF")), HasSubstr("not UTF-8"));
  EXPECT_THAT(refused(step(claim, "CLOCK", "")), HasSubstr("use none or 49cfr370"));
  EXPECT_THAT(refused(step(claim, "EVIDENCE", "")), HasSubstr("content: empty"));
  auto answer = step(claim, "ANSWER", "");
  answer.mutable_step()->set_outcome("PAID");
  EXPECT_THAT(refused(answer), HasSubstr("use ACCEPTED"));
  answer.mutable_step()->set_outcome("ACCEPTED");
  EXPECT_THAT(refused(answer), HasSubstr("amount: none"));
  answer.mutable_step()->set_outcome("DECLINED");
  answer.mutable_step()->set_amount("1 EUR");
  EXPECT_THAT(refused(answer), HasSubstr("nothing is paid"));
  v1::AddClaimStepRequest nobody = step(claim, "NOTE", "x");
  nobody.set_claim_id("C-9999");
  EXPECT_THAT(refused(nobody), HasSubstr("no claim 'C-9999'"));
  EXPECT_EQ(claim_entries(), before);
}

}  // namespace
}  // namespace fairlead::desk
