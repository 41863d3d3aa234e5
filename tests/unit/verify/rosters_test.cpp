// Step 4 where the roster changes and where officers must sign: an honest base, and what a
// dishonest one could try. No outside source: who must sign is the record's own rule.
#include <gtest/gtest.h>

#include "clients/verify/steps.h"
#include "daemon/record/enrolment.h"
#include "tests/unit/verify/small_job.h"

namespace fairlead::verifier {
namespace {

record::VerifierKey named(const std::string& name, const SecretKey& key) {
  return record::make_verifier_key(name, record::NoteKeyType::kEd25519, key.public_key()).value();
}

/// A job with a head, then a second roster that names an officer.
class Rosters : public ::testing::Test {
 protected:
  Rosters() { job_.run(true); }

  /// The first roster with `change` made, as a ROSTER entry by `writer`.
  template <typename Change>
  void roster(Writer& writer, const SecretKey& root, Change change) {
    record::Roster next = record::open_roster(job_.base.roster).value();
    change(next);
    note_ = record::sign_roster(next, root).value();
    if (writer.seq == 0) writer.prev = record::genesis_of(record::roster_fingerprint(note_));
    v1::RosterBody body;
    body.set_note(note_);
    job_.base.write(writer, record::Kind::kRoster, body.SerializeAsString());
  }
  void name_officer() {
    roster(job_.base.admin, job_.base.root_key, [this](record::Roster& next) {
      next.officers = {named("lot.example/officer-anna", anna_)};
    });
  }
  /// Another truck, signed for by `officer`; nullptr: by nobody.
  void enrol(const SecretKey* officer, const std::string& name = "lot.example/officer-anna") {
    const Writer truck;
    const Hash binding = sha256("binding");
    v1::EnrolBody body;
    body.set_device_id(string_of(truck.id));
    body.set_public_key(string_of(truck.key.public_key().bytes));
    body.set_device_name("truck-8");
    body.set_kind(v1::EnrolBody::TRUCK);
    if (officer != nullptr) {
      body.set_code_binding(string_of(binding));
      body.set_officer(name);
      const auto statement = record::enrol_statement(truck.id, truck.key.public_key(), binding);
      body.set_officer_signature(string_of(officer->sign(statement).bytes));
    }
    job_.base.write(job_.base.admin, record::Kind::kEnrol, body.SerializeAsString());
  }
  Verdicts check(bool pinned = true, bool officers_required = false) {
    job_.base.sign_head(true);
    Policy policy = job_.base.policy(true);
    policy.officers_required = officers_required;
    if (pinned && !note_.empty()) policy.rosters.push_back(record::roster_fingerprint(note_));
    return check_bundle(job_.base.seal(job_.bundle()), policy);
  }

  SmallJob job_;
  SecretKey anna_ = SecretKey::generate();
  std::string note_;
};

TEST_F(Rosters, AnOfficersSignatureIsEnough) {
  name_officer();
  enrol(&anna_);
  const auto verdicts = check();
  EXPECT_EQ(verdicts.exit(), Exit::kProven) << to_text(verdicts);
}

TEST_F(Rosters, WithoutItTheEnrolmentIsDisproven) {
  name_officer();
  enrol(nullptr);
  const auto verdicts = check();
  EXPECT_EQ(verdicts.exit(), Exit::kDisproven) << to_text(verdicts);
  EXPECT_TRUE(verdicts.failed(4));
}

TEST_F(Rosters, NeitherTheBaseNorAStrangerSignsForAnOfficer) {
  name_officer();
  enrol(&job_.base.admin.key);
  EXPECT_EQ(check().exit(), Exit::kDisproven);
}

TEST_F(Rosters, AnOfficerTheRosterDoesNotNameIsNone) {
  name_officer();
  enrol(&anna_, "lot.example/officer-bo");
  EXPECT_EQ(check().exit(), Exit::kDisproven);
}

TEST_F(Rosters, ARosterThePolicyDoesNotNameDecidesNothing) {
  name_officer();
  const auto verdicts = check(false);
  EXPECT_EQ(verdicts.exit(), Exit::kUnknown) << to_text(verdicts);
}

TEST_F(Rosters, AnotherRootCannotFollow) {
  const SecretKey other = SecretKey::generate();
  roster(job_.base.admin, other,
         [&](record::Roster& next) { next.root = named("lot.example/fairlead/root", other); });
  EXPECT_EQ(check().exit(), Exit::kDisproven);
}

class NewAdmin : public Rosters {
 protected:
  NewAdmin() {
    roster(next_, job_.base.root_key, [this](record::Roster& roster) {
      roster.admins = {{next_.id, named("lot.example/fairlead/admin", next_.key)}};
    });
    job_.base.write(next_, record::Kind::kStop, "");
  }
  Writer next_;
};

TEST_F(NewAdmin, BeginsItsChainWithTheRosterThatNamesIt) {
  const auto verdicts = check();
  EXPECT_EQ(verdicts.exit(), Exit::kProven) << to_text(verdicts);
}

TEST_F(NewAdmin, TheOldKeyHasNoSayAnyMore) {
  job_.base.write(job_.base.admin, record::Kind::kStop, "");
  const auto verdicts = check();
  EXPECT_EQ(verdicts.exit(), Exit::kDisproven) << to_text(verdicts);
}

TEST_F(Rosters, APolicyThatAsksForOfficersNeedsSome) {
  const auto verdicts = check(true, true);
  EXPECT_EQ(verdicts.exit(), Exit::kUnknown) << to_text(verdicts);
}

TEST(Pin, RostersInTheirOrderAndOfficersWhereTheFirstNamesThem) {
  const SmallBase base;
  const std::string log = record::format_verifier_key(base.log);
  record::Roster next = record::open_roster(base.roster).value();
  next.officers = {named("lot.example/officer-anna", SecretKey::generate())};
  const std::string second = record::sign_roster(next, base.root_key).value();
  const auto policy = pin({base.roster, second}, log, {}, 1);
  ASSERT_TRUE(policy) << policy.error().message;
  EXPECT_EQ(policy->rosters.size(), 2u);
  EXPECT_FALSE(policy->officers_required);
  const auto strict = pin({second}, log, {}, 1);
  ASSERT_TRUE(strict) << strict.error().message;
  EXPECT_TRUE(strict->officers_required);
  EXPECT_TRUE(parse_policy(format_policy(*strict))->officers_required);
  EXPECT_FALSE(pin({base.roster, SmallBase().roster}, log, {}, 1));
}

}  // namespace
}  // namespace fairlead::verifier
