// What the ledger takes in and what it refuses: the record's section 5, "Base checks ..."; genesis,
// chain and commitment as section 2 defines them (computed by daemon/record, which has its own
// published vectors).
#include "tests/unit/ledger/ledger_world.h"

namespace fairlead::ledger {
namespace {

class AppendTest : public ::testing::Test {
 protected:
  TestFolder folder_;
  std::unique_ptr<Ledger> ledger_ = open_or_fail(base_options(folder_.path()));

  TestTruck enrolled(uint8_t number) {
    EXPECT_EQ(Outcome::kStored, enrol(*ledger_, number).outcome);
    return {number, *ledger_->watermark(id_of(number))};
  }
};

TEST_F(AppendTest, EnrollingOpensAChainRootedInItsLeaf) {
  const auto enrolled = enrol(*ledger_, 1);
  ASSERT_EQ(Outcome::kStored, enrolled.outcome);
  const auto mark = ledger_->watermark(id_of(1));
  ASSERT_TRUE(mark);
  const auto leaf = ledger_->entry(enrolled.leaf);
  ASSERT_TRUE(leaf);
  EXPECT_EQ(record::genesis_of(record::leaf_hash_of(leaf->entry, leaf->recv_us)), mark->chain);
  EXPECT_EQ(0U, mark->seq);
  EXPECT_EQ(key_of(1)->public_key(), mark->key);
  EXPECT_EQ(Refusal::kBadForm, enrol(*ledger_, 1).refusal) << "once only";
}

TEST_F(AppendTest, EntriesInOrderAreStoredAndDuplicatesAcknowledgedAgain) {
  auto truck = enrolled(1);
  const auto first = truck.next(), second = truck.next();
  const auto results = ledger_->append({first, second}).get();
  ASSERT_TRUE(results);
  EXPECT_EQ(Outcome::kStored, results->at(0).outcome);
  EXPECT_EQ(results->at(0).leaf + 1, results->at(1).leaf);
  EXPECT_EQ(2U, results->at(1).mark.seq);
  EXPECT_EQ(record::chain_of(second.entry), results->at(1).mark.chain);
  const auto again = append_one(*ledger_, first);
  EXPECT_EQ(Outcome::kDuplicate, again.outcome);
  EXPECT_EQ(results->at(0).leaf, again.leaf);
  EXPECT_EQ(2U, again.mark.seq) << "the acknowledgement is cumulative";
  EXPECT_EQ(3U, ledger_->size());
}

TEST_F(AppendTest, RefusalsNameTheReasonAndChangeNothing) {
  auto truck = enrolled(1);
  auto stranger = TestTruck(9, Watermark{id_of(9), 1, {}, 0, {}, 0, 0, 0});
  EXPECT_EQ(Refusal::kUnknownDevice, append_one(*ledger_, stranger.next()).refusal);
  auto good = truck.next();
  const auto late = truck.next();
  const auto early = append_one(*ledger_, late);
  EXPECT_EQ(Refusal::kOutOfOrder, early.refusal);
  EXPECT_NE(std::string::npos, early.words.find("send 1 next")) << early.words;
  auto forged = good;
  forged.entry[record::kEntrySize - 1] ^= 1;
  EXPECT_EQ(Refusal::kBadSignature, append_one(*ledger_, forged).refusal);
  auto swapped = good;
  swapped.body[0] = 'B';
  EXPECT_EQ(Refusal::kBodyMismatch, append_one(*ledger_, swapped).refusal);
  auto bare = good;
  bare.body_state = BodyState::kFollows;
  EXPECT_EQ(Refusal::kBadForm, append_one(*ledger_, bare).refusal)
      << "only strips' bodies may follow";
  auto garbage = good;
  garbage.entry[0] = 'X';
  EXPECT_EQ(Refusal::kBadForm, append_one(*ledger_, garbage).refusal);
  EXPECT_EQ(1U, ledger_->size());
  EXPECT_EQ(Outcome::kStored, append_one(*ledger_, good).outcome);
}

TEST_F(AppendTest, AChainThatDoesNotFollowIsRefused) {
  (void)enrolled(1);
  auto mark = *ledger_->watermark(id_of(1));
  mark.chain[5] ^= 1;
  EXPECT_EQ(Refusal::kBrokenChain, append_one(*ledger_, TestTruck(1, mark).next()).refusal);
}

TEST_F(AppendTest, SameNumberWithOtherBytesIsAForkThatShowsBoth) {
  (void)enrolled(1);
  const auto mark = *ledger_->watermark(id_of(1));
  const auto kept = TestTruck(1, mark).next();
  const auto other = TestTruck(1, mark).next(Kind::kObservations, {}, "another story");
  ASSERT_EQ(Outcome::kStored, append_one(*ledger_, kept).outcome);
  const auto fork = append_one(*ledger_, other);
  EXPECT_EQ(Refusal::kFork, fork.refusal);
  ASSERT_TRUE(fork.kept);
  EXPECT_EQ(kept.entry, *fork.kept);
  auto noise = other;  // Not signed by the device: proves nothing against it.
  noise.entry[record::kEntrySize - 1] ^= 1;
  EXPECT_EQ(Refusal::kBadSignature, append_one(*ledger_, noise).refusal);
}

TEST_F(AppendTest, ATruckCannotWriteWhatOnlyABaseWrites) {
  auto truck = enrolled(1);
  EXPECT_EQ(Refusal::kBadForm, append_one(*ledger_, truck.next(Kind::kEnrol)).refusal);
}

TEST_F(AppendTest, EntriesForAnotherLedgerAreRefused) {
  (void)enrolled(1);
  const auto mark = *ledger_->watermark(id_of(1));
  EntryHeader header;
  header.device_id = id_of(1);
  header.prev = mark.chain;
  header.ledger_id = record::ledger_id_of("elsewhere/fairlead/g1");
  SentEntry sent;
  ASSERT_TRUE(record::bind_body(header, sent.salt, ""));
  sent.entry = record::sign_entry(header, *key_of(1));
  EXPECT_EQ(Refusal::kBadForm, append_one(*ledger_, sent).refusal);
}

TEST_F(AppendTest, AStripsBodyMayFollow) {
  auto truck = enrolled(1);
  auto strip = truck.next(Kind::kStrip);
  const auto body = strip.body;
  strip.body_state = BodyState::kFollows;
  strip.body.clear();
  ASSERT_EQ(Outcome::kStored, append_one(*ledger_, strip).outcome);
  const auto after = append_one(*ledger_, truck.next());
  EXPECT_EQ(2U, after.mark.seq);
  EXPECT_EQ(0U, after.mark.body_seq);
  EXPECT_EQ(std::vector<uint64_t>{1}, *ledger_->bodies_missing(id_of(1), 10));
  const auto put = [&](const std::string& bytes) {
    std::promise<AppendResult> promise;
    ledger_->append_body(id_of(1), 0, 1, strip.salt, bytes,
                         [&](auto results) { promise.set_value(results->at(0)); });
    return promise.get_future().get();
  };
  EXPECT_EQ(Refusal::kBodyMismatch, put("other bytes").refusal);
  const auto came = put(body);
  EXPECT_EQ(Outcome::kStored, came.outcome);
  EXPECT_EQ(2U, came.mark.body_seq);
  EXPECT_EQ(Outcome::kDuplicate, put(body).outcome);
  EXPECT_TRUE(ledger_->bodies_missing(id_of(1), 10)->empty());
  EXPECT_EQ(body, ledger_->entry(1)->body);
  EXPECT_TRUE(ledger_->audit()->problems.empty());
}

TEST_F(AppendTest, AnErasedBodyIsTakenAsSuch) {
  auto truck = enrolled(1);
  auto erased = truck.next();
  erased.body_state = BodyState::kErased;
  const auto stored = append_one(*ledger_, erased);
  ASSERT_EQ(Outcome::kStored, stored.outcome);
  EXPECT_EQ(1U, stored.mark.body_seq);
  EXPECT_EQ(BodyState::kErased, ledger_->entry(stored.leaf)->body_state);
}

TEST_F(AppendTest, ARestoredDeviceGoesOnInANewEpoch) {
  auto truck = enrolled(1);
  ASSERT_EQ(Outcome::kStored, append_one(*ledger_, truck.next()).outcome);
  v1::RestoreBody body;
  body.set_device_id(string_of(id_of(1)));
  body.set_new_epoch(1);
  EXPECT_EQ(Refusal::kBadForm,
            officer_writes(*ledger_, Kind::kRestore, body.SerializeAsString()).refusal);
  body.set_new_epoch(2);
  const auto restored = officer_writes(*ledger_, Kind::kRestore, body.SerializeAsString());
  ASSERT_EQ(Outcome::kStored, restored.outcome);
  EXPECT_EQ(Refusal::kUnknownDevice, append_one(*ledger_, truck.next()).refusal) << "epoch 1 ended";
  const auto mark = *ledger_->watermark(id_of(1));
  EXPECT_EQ(2U, mark.epoch);
  const auto leaf = *ledger_->entry(restored.leaf);
  EXPECT_EQ(record::genesis_of(record::leaf_hash_of(leaf.entry, leaf.recv_us)), mark.chain);
  EXPECT_EQ(Outcome::kStored, append_one(*ledger_, TestTruck(1, mark).next()).outcome);
  EXPECT_TRUE(ledger_->audit()->problems.empty());
}

TEST_F(AppendTest, ARotatedKeySignsFromThenOn) {
  auto truck = enrolled(1);
  ASSERT_EQ(Outcome::kStored, append_one(*ledger_, truck.next()).outcome);
  v1::RotateBody body;
  body.set_device_id(string_of(id_of(1)));
  body.set_new_public_key(string_of(key_of(77)->public_key().bytes));
  ASSERT_EQ(Outcome::kStored,
            officer_writes(*ledger_, Kind::kRotate, body.SerializeAsString()).outcome);
  auto next = truck.next();
  EXPECT_EQ(Refusal::kBadSignature, append_one(*ledger_, next).refusal);
  next.entry = record::sign_entry(*record::decode_header(next.entry), *key_of(77));
  EXPECT_EQ(Outcome::kStored, append_one(*ledger_, next).outcome);
  EXPECT_TRUE(ledger_->audit()->problems.empty()) << ledger_->audit()->problems[0];
}

TEST_F(AppendTest, OwnEntriesAreNumberedChainedAndBound) {
  const auto first = officer_writes(*ledger_, Kind::kStart, "one");
  const auto second = officer_writes(*ledger_, Kind::kStop, "two");
  const auto header = record::decode_header(second.entry);
  ASSERT_TRUE(header);
  EXPECT_EQ(2U, header->seq);
  EXPECT_EQ(record::chain_of(first.entry), header->prev);
  EXPECT_EQ(record::genesis_of(sha256("x")), record::genesis_of(sha256("x")));
  EXPECT_TRUE(record::verify_entry(second.entry, key_of(kOfficer)->public_key()));
  const auto stored = *ledger_->entry(second.leaf);
  EXPECT_TRUE(record::body_matches(*header, stored.salt, "two"));
  OwnEntry wrong_key;
  wrong_key.header.device_id = id_of(kOfficer);
  wrong_key.key = key_of(3);
  EXPECT_EQ(Refusal::kBadSignature, ledger_->append_own({wrong_key}).get()->at(0).refusal);
  EXPECT_EQ(Refusal::kBadForm,
            officer_writes(*ledger_, Kind::kAlarm, std::string(61'441, 'x')).refusal);
  EXPECT_EQ(Code::kConflict, ledger_->start_chain({id_of(kOfficer), 1, {}, {}}).error().code);
}

TEST_F(AppendTest, ARegisterEntryBringsItsFile) {
  v1::RegisterFileBody body;
  body.set_name("hatch.textproto");
  body.set_kind(v1::FileKind::VEHICLE);
  body.set_content("vehicle { id: \"hatch-1\" }");
  ASSERT_EQ(Outcome::kStored,
            officer_writes(*ledger_, Kind::kRegister, body.SerializeAsString()).outcome);
  EXPECT_EQ(body.content(), *ledger_->file(sha256(body.content())));
  EXPECT_EQ(Code::kNotFound, ledger_->file(sha256("x")).error().code);
  EXPECT_EQ(1U, ledger_->entries_of_kind(Kind::kRegister, 0, 10)->size());
}

}  // namespace
}  // namespace fairlead::ledger
