// Retention, erasure and holds on a real base: the record's section 9. What is due goes, a hold
// always wins, findings stay as recorded, and a stranger's check of the bundle says under which
// policy what was erased.
#include "daemon/watch/retention.h"

#include <gmock/gmock.h>

#include <thread>

#include "clients/verify/steps.h"
#include "daemon/base/time_text.h"
#include "daemon/desk/bundle.h"
#include "daemon/desk/claims.h"
#include "daemon/desk/jobs.h"
#include "daemon/desk/report_input.h"
#include "daemon/desk/retention_desk.h"
#include "daemon/watch/job_id.h"
#include "daemon/watch/stamp.h"
#include "tests/unit/desk/small_desk.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::desk {
namespace {

using testing::Contains;
using testing::HasSubstr;
using testing::IsEmpty;

constexpr int64_t kDayUs = 86'400'000'000;

class RetentionTest : public testing::Test {
 protected:
  RetentionTest() {
    for (const char* id : {"boost", "load"})
      base_.put_file(std::string("daemon/judge/procedures/") + id + ".textproto");
    for (const char* name : {"vehicles", "gear", "trucks", "sensors"})
      base_.put_file(std::string("clients/sim/fleet/") + name + ".textproto");
    EXPECT_TRUE(base_.desk().import.feed(reports::sample_job().lines));
    for (const unsigned stripe : {6u, 9u, 10u})
      EXPECT_TRUE(desk().ledger().put_attachment(reports::striped_png(120, 80, stripe)));
    EXPECT_TRUE(base_.judged("ow-0412"));
  }

  Desk& desk() { return base_.desk(); }
  ledger::Ledger& ledger() { return base_.desk().ledger(); }
  std::vector<watch::DueGroup> due_in(int64_t days) {
    const auto due = watch::find_due(ledger(), {}, watch::wall_now_us() + days * kDayUs);
    EXPECT_TRUE(due) << due.error().message;
    return due.value_or(std::vector<watch::DueGroup>{});
  }
  watch::ErasureReport carry_out(int64_t days, bool dry_run = false) {
    const auto done = watch::carry_out(desk().office, due_in(days), "", dry_run);
    EXPECT_TRUE(done) << done.error().message;
    return done.value_or(watch::ErasureReport{});
  }
  v1::Claim open_a_claim() {
    v1::OpenClaimRequest request;
    *request.mutable_claim() = reports::sample_claim();
    request.mutable_claim()->clear_claim_id();
    request.mutable_claim()->set_job_id("ow-0412");
    const auto opened = open_claim(desk(), request);
    EXPECT_TRUE(opened) << opened.error().message;
    return opened->claim();
  }
  Result<v1::EndHoldResponse> end_hold(const std::string& claim, std::vector<std::string> names) {
    v1::EndHoldRequest request;
    request.set_claim_id(claim);
    request.mutable_approved_by()->Assign(names.begin(), names.end());
    request.set_words("settled");
    return desk::end_hold(desk(), request);
  }
  static v1::Observation note() {
    v1::Observation line;
    line.set_time("2026-11-05T12:00:00Z");
    line.set_job("ow-0412");
    line.set_source("desk");
    line.mutable_note()->set_text("found a glove");
    return line;
  }
  std::vector<std::string> findings() {
    std::vector<std::string> out;
    const auto entries = *ledger().entries_of_kind(record::Kind::kFinding, 0, 1'000);
    for (const auto& entry : entries) out.push_back(entry.body);
    return out;
  }

  SmallDesk base_;
};

TEST(Retention, MonthsAreCalendarMonths) {
  const auto before = [](const char* time, int64_t months) {
    return format_time_us(watch::months_before(*parse_time_us(time), months));
  };
  EXPECT_EQ("2023-11-25T10:00:00.000000Z", before("2026-11-25T10:00:00Z", 36));
  EXPECT_EQ("2027-02-28T01:02:03.000000Z", before("2027-05-31T01:02:03Z", 3));
  EXPECT_EQ("2028-02-29T00:00:00.000000Z", before("2028-05-31T00:00:00Z", 3));
}

TEST_F(RetentionTest, AJobIsDueAfterItsMonthsAndNotBefore) {
  EXPECT_THAT(due_in(1'090), IsEmpty()) << "36 months are at least 1095 days";
  const auto due = due_in(1'100);
  ASSERT_EQ(1U, due.size());
  EXPECT_EQ("retention 36 months", due[0].policy);
  EXPECT_THAT(due[0].what, HasSubstr(hex_of(watch::job_id_of("ow-0412"))));
  for (const uint64_t leaf : due[0].leaves) {
    const auto kind = ledger().entry(leaf)->header().kind;
    EXPECT_TRUE(kind == record::Kind::kObservations || kind == record::Kind::kStrip);
  }
}

TEST_F(RetentionTest, AHoldWinsAndItsEndNeedsTwoPeople) {
  const auto claim = open_a_claim();
  const auto held = carry_out(1'100);
  EXPECT_THAT(held.going, IsEmpty());
  ASSERT_EQ(2U, held.held.size()) << "the job, and the claimant's card";
  for (const auto& group : held.held)
    EXPECT_THAT(group.why, HasSubstr("held as evidence for claim " + claim.claim_id()));
  EXPECT_THAT(end_hold(claim.claim_id(), {"J. Lindqvist"}).error().message,
              HasSubstr("one approval"));
  EXPECT_THAT(end_hold(claim.claim_id(), {"J. Lindqvist", "j lindqvist"}).error().message,
              HasSubstr("named twice"));
  EXPECT_EQ(Code::kNotFound, end_hold("C-0999", {"J. Lindqvist", "A. Okafor"}).error().code);
  ASSERT_EQ(1, list_holds(desk(), {})->hold_size());
  ASSERT_TRUE(end_hold(claim.claim_id(), {"J. Lindqvist", "A. Okafor"}));
  EXPECT_EQ(0, list_holds(desk(), {})->hold_size());
  const auto gone = carry_out(1'100);
  EXPECT_EQ(2U, gone.going.size());
  EXPECT_THAT(gone.held, IsEmpty());
  EXPECT_EQ(4U, gone.attachments) << "the three photos of the job and its film";
}

TEST_F(RetentionTest, FindingsStayAsRecordedAndTheBundleNamesThePolicy) {
  for (int i = 0; i < 200 && findings().empty(); ++i)
    std::this_thread::sleep_for(std::chrono::milliseconds(50));
  std::this_thread::sleep_for(std::chrono::milliseconds(300));  // They are written one by one.
  const auto before = findings();
  ASSERT_FALSE(before.empty());
  const auto gone = carry_out(1'100);
  ASSERT_EQ(1U, gone.erase_leaves.size());
  // Something of the job still comes: it is not judged on what is left.
  ASSERT_TRUE(desk().import.say_now(note()));
  std::this_thread::sleep_for(std::chrono::milliseconds(1'500));
  EXPECT_EQ(before, findings());
  EXPECT_FALSE(desk().watch.job(watch::job_id_of("ow-0412"))->findings.empty());

  const auto input = report_input(desk(), watch::job_id_of("ow-0412"), false);
  ASSERT_TRUE(input) << input.error().message;
  for (const auto& finding : input->findings) {
    const auto same = [&](const std::string& body) {
      return body.find(judge::finding_to_json(finding)) != std::string::npos;
    };
    EXPECT_TRUE(std::ranges::any_of(before, same)) << judge::finding_to_json(finding);
  }
  const auto bundle = export_bundle(desk(), watch::job_id_of("ow-0412"), {});
  ASSERT_TRUE(bundle) << bundle.error().message;
  const auto policy = verifier::pin({desk().office.roster_note()},
                                    record::format_verifier_key(desk().office.roster().log), {}, 1);
  ASSERT_TRUE(policy) << policy.error().message;
  const std::string words = verifier::to_text(verifier::check_bundle(*bundle, *policy));
  EXPECT_THAT(words, HasSubstr("erased under \"retention 36 months\" at leaf " +
                               std::to_string(gone.erase_leaves[0])));
  EXPECT_THAT(words, testing::Not(HasSubstr("isproven")));
}

TEST_F(RetentionTest, APersonsRequestErasesACardAndNoEvidence) {
  v1::CardBody card;
  card.set_card_id(string_of(random_array<16>()));
  card.set_name("A. Somebody");
  desk().import.append(record::Kind::kCard, card.SerializeAsString());
  v1::EraseOnRequestRequest request;
  request.add_card(hex_of(card.card_id()));
  EXPECT_THAT(erase_on_request(desk(), request).error().message, HasSubstr("words: empty"));
  request.set_words("letter of 3 May");
  ASSERT_TRUE(desk().import.say_now(note()));  // Then the card is on disk too.
  const auto done = erase_on_request(desk(), request);
  ASSERT_TRUE(done) << done.error().message;
  EXPECT_EQ(1U, done->erasure().entries());
  EXPECT_TRUE(done->erasure().wiped());
  EXPECT_EQ(Code::kNotFound, erase_on_request(desk(), request).error().code) << "it is gone";

  const auto claim = open_a_claim();
  v1::EraseOnRequestRequest photo;
  photo.add_attachment(hex_of(sha256(reports::striped_png(120, 80, 6))));
  photo.set_words("asks for it");
  const auto kept = erase_on_request(desk(), photo);
  ASSERT_TRUE(kept) << kept.error().message;
  EXPECT_EQ(0U, kept->erasure().entries());
  EXPECT_THAT(kept->erasure().held(0).why(), HasSubstr(claim.claim_id()));
  v1::EraseOnRequestRequest opening;
  opening.add_leaf(ledger().entries_of_kind(record::Kind::kHold, 0, 1)->front().leaf);
  opening.set_words("asks for it");
  EXPECT_THAT(erase_on_request(desk(), opening)->erasure().held(0).why(), HasSubstr("HOLD stays"));
}

TEST_F(RetentionTest, AnErasedClaimsNumberIsNotGivenAgain) {
  const auto first = open_a_claim();
  ASSERT_TRUE(end_hold(first.claim_id(), {"J. Lindqvist", "A. Okafor"}));
  v1::EraseOnRequestRequest request;
  request.add_leaf(first.leaf_index());
  request.set_words("settled, all forgotten");
  ASSERT_EQ(1U, erase_on_request(desk(), request)->erasure().entries());
  EXPECT_NE(first.claim_id(), open_a_claim().claim_id());
}

}  // namespace
}  // namespace fairlead::desk
