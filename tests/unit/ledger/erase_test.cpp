// Erasure in the ledger: the record's promise G8 and its section 9. Holds win in the transaction
// that would delete; proofs, chains and leaves stay; what is gone is gone from every file.
#include <gmock/gmock.h>

#include "tests/unit/ledger/ledger_world.h"

namespace fairlead::ledger {
namespace {

using testing::ElementsAre;
using testing::HasSubstr;
using testing::IsEmpty;

class EraseTest : public testing::Test {
 protected:
  EraseTest() : options_(base_options(folder_.path())), ledger_(open_or_fail(options_)) {
    (void)enrol(*ledger_, 1);
    truck_.emplace(1, *ledger_->watermark(id_of(1)));
  }

  uint64_t add(Kind kind, const Id16& job, const std::string& body) {
    const auto result = append_one(*ledger_, truck_->next(kind, job, body));
    EXPECT_EQ(Outcome::kStored, result.outcome) << result.words;
    return result.leaf;
  }
  static std::string photo_line(const std::string& content) {
    v1::ObservationsBody body;
    body.add_observation()->mutable_photo()->set_sha256(hex_of(sha256(content)));
    return body.SerializeAsString();
  }
  EraseResult erase(std::vector<uint64_t> leaves, bool dry_run = false) {
    EraseOrder order;
    order.leaves = std::move(leaves);
    order.policy = "retention 36 months";
    order.own.header.device_id = id_of(kOfficer);
    order.own.key = key_of(kOfficer);
    order.dry_run = dry_run;
    auto result = ledger_->erase(order);
    if (!result) {
      ADD_FAILURE() << result.error().message;
      return {};
    }
    return *result;
  }
  void hold(const Id16& job) {
    v1::HoldBody body;
    body.set_claim_id("C-0001");
    body.add_job_id(string_of(job));
    EXPECT_EQ(Outcome::kStored,
              officer_writes(*ledger_, Kind::kHold, body.SerializeAsString()).outcome);
  }
  AppendResult end_hold(std::vector<std::string> names) {
    v1::HoldEndBody body;
    body.set_claim_id("C-0001");
    body.mutable_approved_by()->Assign(names.begin(), names.end());
    return officer_writes(*ledger_, Kind::kHoldEnd, body.SerializeAsString());
  }
  BodyState state(uint64_t leaf) const { return ledger_->entry(leaf)->body_state; }

  TestFolder folder_;
  Options options_;
  std::unique_ptr<Ledger> ledger_;
  std::optional<TestTruck> truck_;
};

TEST_F(EraseTest, TheBodyGoesAndEverythingThatProvesTheEntryStays) {
  const uint64_t leaf = add(Kind::kObservations, id_of(9), "a note");
  const auto before = *ledger_->entry(leaf);
  const auto gone = erase({leaf, leaf + 100});
  EXPECT_THAT(gone.leaves, ElementsAre(leaf));
  ASSERT_EQ(1U, gone.kept.size());
  EXPECT_THAT(gone.kept[0].why, HasSubstr("beyond the end"));
  EXPECT_TRUE(gone.wiped);
  const auto after = *ledger_->entry(leaf);
  EXPECT_EQ(before.entry, after.entry);
  EXPECT_EQ(BodyState::kErased, after.body_state);
  EXPECT_EQ("", after.body);
  v1::EraseBody said;
  ASSERT_TRUE(gone.entry);
  ASSERT_TRUE(said.ParseFromString(ledger_->entry(*gone.entry)->body));
  EXPECT_THAT(said.leaf(), ElementsAre(leaf));
  EXPECT_EQ("retention 36 months", said.policy());
  EXPECT_THAT(ledger_->audit()->problems, IsEmpty());
  EXPECT_THAT(erase({leaf}).kept.at(0).why, HasSubstr("already"));
  // Sent again by a truck that missed the answer: a duplicate, and the body stays away.
  TestTruck again(
      1, {id_of(1), 1, key_of(1)->public_key(), 0, record::decode_header(before.entry)->prev});
  EXPECT_EQ(Outcome::kDuplicate,
            append_one(*ledger_, again.next(Kind::kObservations, id_of(9), "a note")).outcome);
  EXPECT_EQ(BodyState::kErased, state(leaf));
}

TEST_F(EraseTest, AHoldKeepsAJobWithAllItsTruckRecordedMeanwhile) {
  const uint64_t loose = add(Kind::kStrip, {}, "before");
  const uint64_t open = add(Kind::kJobOpen, id_of(9), "open");
  const uint64_t strip = add(Kind::kStrip, {}, "within");
  const uint64_t note = add(Kind::kObservations, id_of(9), "a note");
  add(Kind::kJobClose, id_of(9), "close");
  const uint64_t after = add(Kind::kStrip, {}, "after");
  const uint64_t late = add(Kind::kObservations, id_of(9), "a late note");
  hold(id_of(9));
  const std::vector<uint64_t> all = {loose, open, strip, note, after, late};
  EXPECT_THAT(erase(all, true).leaves, ElementsAre(loose, after));
  EXPECT_EQ(BodyState::kHere, state(loose)) << "a dry run deletes nothing";
  const auto gone = erase(all);
  EXPECT_THAT(gone.leaves, ElementsAre(loose, after));
  ASSERT_EQ(4U, gone.kept.size());
  EXPECT_THAT(gone.kept[0].why, HasSubstr("JOB_OPEN stays"));
  EXPECT_THAT(gone.kept[1].why, HasSubstr("held as evidence for claim C-0001"));
  EXPECT_THAT(end_hold({"A. Okafor"}).words, HasSubstr("one approval"));
  EXPECT_THAT(end_hold({"A. Okafor", "a okafor"}).words, HasSubstr("named twice"));
  EXPECT_THAT(erase({note}).leaves, IsEmpty());
  EXPECT_EQ(Outcome::kStored, end_hold({"A. Okafor", "J. Lindqvist"}).outcome);
  EXPECT_THAT(ledger_->holds()->active(), IsEmpty());
  EXPECT_THAT(erase({strip, note, late}).leaves, ElementsAre(strip, note, late));
  hold(id_of(9));
  EXPECT_EQ(1U, ledger_->holds()->active().size()) << "a hold may begin again";
  EXPECT_THAT(ledger_->audit()->problems, IsEmpty());
}

TEST_F(EraseTest, AHoldKeepsTheCardsItsJobNames) {
  const auto card = [&](uint8_t number) {
    v1::CardBody body;
    body.set_card_id(string_of(id_of(number)));
    body.set_name("Somebody");
    return add(Kind::kCard, {}, body.SerializeAsString());
  };
  const uint64_t named = card(40), stranger = card(41);
  v1::ObservationsBody line;
  line.add_observation()->mutable_statement()->set_card(hex_of(id_of(40)));
  add(Kind::kObservations, id_of(9), line.SerializeAsString());
  hold(id_of(9));
  const auto gone = erase({named, stranger});
  EXPECT_THAT(gone.leaves, ElementsAre(stranger));
  EXPECT_THAT(gone.kept.at(0).why, HasSubstr("C-0001"));
}

TEST_F(EraseTest, AnAttachmentGoesWithTheLastEntryThatNamesIt) {
  ASSERT_TRUE(ledger_->put_attachment("photo"));
  const Hash photo = sha256("photo");
  const uint64_t first = add(Kind::kObservations, id_of(9), photo_line("photo"));
  const uint64_t second = add(Kind::kObservations, id_of(8), photo_line("photo"));
  auto gone = erase({first});
  EXPECT_THAT(gone.attachments, IsEmpty());
  EXPECT_EQ(1U, gone.attachments_shared);
  EXPECT_TRUE(ledger_->has_attachment(photo));
  gone = erase({second});
  EXPECT_THAT(gone.attachments, ElementsAre(photo));
  EXPECT_FALSE(ledger_->has_attachment(photo));
  // As a crash between the commit and the unlinking leaves it.
  ASSERT_TRUE(ledger_->put_attachment("photo"));
  ledger_.reset();
  ledger_ = open_or_fail(options_);
  EXPECT_FALSE(ledger_->has_attachment(photo));
  EXPECT_THAT(ledger_->audit()->problems, IsEmpty());
}

TEST_F(EraseTest, ATruckDropsOnlySamplesOutsideJobsAndSaysSoFirst) {
  Options options;
  options.folder = folder_.path() / "truck";
  const auto own = open_or_fail(options);
  ASSERT_TRUE(own->start_chain({id_of(7), 1, key_of(7)->public_key(), sha256("enrol leaf")}));
  const auto say = [&](Kind kind, const Id16& job, const std::string& body) {
    OwnEntry entry;
    entry.header.kind = kind;
    entry.header.device_id = id_of(7);
    entry.header.job_id = job;
    entry.body = body;
    entry.key = key_of(7);
    return own->append_own({entry}).get()->at(0).leaf;
  };
  const uint64_t first = say(Kind::kStrip, {}, std::string(500, 'a'));
  const uint64_t note = say(Kind::kObservations, {}, "note");
  const uint64_t second = say(Kind::kStrip, {}, std::string(500, 'b'));
  say(Kind::kJobOpen, id_of(9), "open");
  const uint64_t within = say(Kind::kStrip, {}, "c");
  say(Kind::kJobClose, id_of(9), "close");
  const uint64_t third = say(Kind::kStrip, {}, "d");
  OwnEntry drop;
  drop.header.device_id = id_of(7);
  drop.key = key_of(7);
  auto dropped = own->drop_oldest_strips(1, drop);
  ASSERT_TRUE(dropped) << dropped.error().message;
  EXPECT_EQ(1U, dropped->bodies);
  EXPECT_EQ(BodyState::kErased, own->entry(first)->body_state);
  EXPECT_EQ(2U, own->drop_oldest_strips(1'000'000, drop)->bodies +
                    own->drop_oldest_strips(1'000'000, drop)->bodies);
  EXPECT_EQ(0U, own->drop_oldest_strips(1'000'000, drop)->bodies) << "nothing is left to drop";
  for (const uint64_t leaf : {second, third})
    EXPECT_EQ(BodyState::kErased, own->entry(leaf)->body_state);
  for (const uint64_t leaf : {note, within})
    EXPECT_EQ(BodyState::kHere, own->entry(leaf)->body_state);
  const auto said = *own->entries_of_kind(Kind::kDrop, 0, 10);
  ASSERT_EQ(3U, said.size());
  v1::DropBody body;
  ASSERT_TRUE(body.ParseFromString(said[1].body));
  EXPECT_EQ(3U, body.first_seq());
  EXPECT_EQ(3U, body.last_seq());
  EXPECT_THAT(own->audit()->problems, IsEmpty());
}

TEST_F(EraseTest, ABaseDoesNotWaitForBodiesThatATruckHasDropped) {
  auto header_only = truck_->next(Kind::kStrip, {}, "samples");
  header_only.body_state = BodyState::kFollows;
  const uint64_t strip = append_one(*ledger_, header_only).leaf;
  EXPECT_EQ(1U, ledger_->bodies_missing(id_of(1), 10)->size());
  v1::DropBody drop;
  drop.set_first_seq(1);
  drop.set_last_seq(1);
  add(Kind::kDrop, {}, drop.SerializeAsString());
  EXPECT_THAT(*ledger_->bodies_missing(id_of(1), 10), IsEmpty());
  EXPECT_EQ(2U, ledger_->watermark(id_of(1))->body_seq);
  EXPECT_EQ(BodyState::kErased, state(strip));
  ledger_.reset();
  ledger_ = open_or_fail(options_);
  EXPECT_EQ(2U, ledger_->watermark(id_of(1))->body_seq);
}

TEST_F(EraseTest, AFullDiskRefusesPhotosThenEntriesButNotWhatMustBeSaid) {
  ledger_->set_room(Room::kNoAttachments, "no room for photos");
  EXPECT_EQ(Code::kUnavailable, ledger_->put_attachment("photo").error().code);
  EXPECT_EQ("no room for photos", ledger_->begin_attachment().error().message);
  const uint64_t leaf = add(Kind::kObservations, {}, "an entry");
  ledger_->set_room(Room::kNothing, "no room");
  TestTruck refused = *truck_;
  EXPECT_EQ(Code::kUnavailable, ledger_->append({refused.next()}).get().error().code);
  EXPECT_EQ(Outcome::kStored, officer_writes(*ledger_, Kind::kDiskFull, "full").outcome);
  EXPECT_THAT(erase({leaf}).leaves, ElementsAre(leaf));
  EXPECT_TRUE(ledger_->inclusion(leaf, ledger_->size())) << "proofs are served";
  ledger_->set_room(Room::kAll, "");
  add(Kind::kObservations, {}, "and on");
  EXPECT_EQ("", ledger_->failure());
}

}  // namespace
}  // namespace fairlead::ledger
