// Reading a ledger: by leaf, device, kind and job; which entries belong to a job is the record's
// section 2 ("STRIP: ... belongs to every job open there", "other devices' entries ... foreign").
#include <algorithm>

#include "daemon/record/observation_json.h"
#include "tests/unit/ledger/ledger_world.h"

namespace fairlead::ledger {
namespace {

class ReadTest : public ::testing::Test {
 protected:
  void SetUp() override {
    (void)enrol(*ledger_, 1);
    (void)enrol(*ledger_, 2);
  }
  TestTruck truck(uint8_t number) { return {number, *ledger_->watermark(id_of(number))}; }
  uint64_t put(const SentEntry& sent) {
    const auto result = append_one(*ledger_, sent);
    EXPECT_EQ(Outcome::kStored, result.outcome) << result.words;
    return result.leaf;
  }
  std::vector<uint64_t> leaves_of_job(const Id16& job) {
    std::vector<uint64_t> leaves;
    const auto entries = ledger_->job_entries(job);
    if (!entries) ADD_FAILURE() << entries.error().message;
    for (const auto& entry : *entries) leaves.push_back(entry.leaf);
    return leaves;
  }

  TestFolder folder_;
  std::unique_ptr<Ledger> ledger_ = open_or_fail(base_options(folder_.path()));
};

TEST_F(ReadTest, AJobIsItsOwnEntriesAndItsOpenersStripsMeanwhile) {
  auto a = truck(1), b = truck(2);
  const Id16 j1 = id_of(11), j2 = id_of(12);
  (void)put(a.next(Kind::kStrip));  // Before.
  const auto open1 = put(a.next(Kind::kJobOpen, j1));
  const auto strip1 = put(a.next(Kind::kStrip));
  (void)put(b.next(Kind::kStrip));  // Of another truck.
  const auto open2 = put(a.next(Kind::kJobOpen, j2));
  const auto strip2 = put(a.next(Kind::kStrip));
  const auto said1 = put(a.next(Kind::kObservations, j1));
  const auto close1 = put(a.next(Kind::kJobClose, j1));
  const auto strip3 = put(a.next(Kind::kStrip));
  const auto gap = put(a.next(Kind::kGap));
  const auto foreign = put(b.next(Kind::kObservations, j1));
  const auto finding = officer_writes(*ledger_, Kind::kFinding, "f", j1).leaf;
  EXPECT_EQ((std::vector{open1, strip1, strip2, said1, close1, foreign, finding}),
            leaves_of_job(j1));
  EXPECT_EQ((std::vector{open2, strip2, strip3, gap}), leaves_of_job(j2));
  EXPECT_EQ(close1, ledger_->job(j1)->close_leaf);
  EXPECT_EQ(std::nullopt, ledger_->job(j2)->close_leaf);
  EXPECT_EQ(id_of(1), ledger_->job(j1)->device_id);
  ASSERT_EQ(1U, ledger_->open_jobs(id_of(1))->size());
  EXPECT_EQ(j2, ledger_->open_jobs(id_of(1))->at(0).job_id);
  EXPECT_EQ(2U, ledger_->jobs(0, 10)->size());
  EXPECT_EQ(1U, ledger_->jobs(open1 + 1, 10)->size());
  EXPECT_EQ(Code::kNotFound, ledger_->job(id_of(99)).error().code);
  EXPECT_TRUE(ledger_->audit()->problems.empty());
}

TEST_F(ReadTest, OnlyTheOpenerClosesAndReopens) {
  auto a = truck(1), b = truck(2);
  const Id16 job = id_of(11);
  (void)put(a.next(Kind::kJobOpen, job));
  (void)put(b.next(Kind::kJobClose, job));
  EXPECT_EQ(std::nullopt, ledger_->job(job)->close_leaf);
  (void)put(b.next(Kind::kJobOpen, job));
  EXPECT_EQ(id_of(1), ledger_->job(job)->device_id);
  const auto close = put(a.next(Kind::kJobClose, job));
  EXPECT_EQ(close, ledger_->job(job)->close_leaf);
  const auto line = record::observation_from_line(
      R"({"time":"2026-03-02T10:00:00Z","job":"x","source":"operator","seq":1,"reopened":{}})");
  v1::ObservationsBody reopened;
  *reopened.add_observation() = *line;
  (void)put(a.next(Kind::kObservations, job, reopened.SerializeAsString()));
  EXPECT_EQ(std::nullopt, ledger_->job(job)->close_leaf);
}

TEST_F(ReadTest, RangesByLeafAndByDevice) {
  auto a = truck(1), b = truck(2);
  for (int i = 0; i < 10; ++i) {
    (void)put(a.next());
    (void)put(b.next());
  }
  const auto all = ledger_->entries(0, 1'000, true);
  ASSERT_EQ(22U, all->size());
  for (size_t i = 0; i < all->size(); ++i) EXPECT_EQ(i, all->at(i).leaf);
  EXPECT_EQ("body 1 1", all->at(2).body);
  EXPECT_EQ("", ledger_->entries(2, 1, false)->at(0).body);
  EXPECT_EQ(5U, ledger_->entries(20, 5, false)->size() + 3);
  const auto of_b = ledger_->device_entries(id_of(2), 1, 4, 3, true);
  ASSERT_EQ(3U, of_b->size());
  EXPECT_EQ("body 2 4", of_b->at(0).body);
  EXPECT_EQ(6U, of_b->at(2).header().seq);
  EXPECT_TRUE(ledger_->device_entries(id_of(2), 2, 1, 3, true)->empty());
  EXPECT_EQ(Code::kNotFound, ledger_->entry(22).error().code);
  EXPECT_EQ(2U, ledger_->entries_of_kind(Kind::kEnrol, 0, 10)->size());
  EXPECT_EQ(1U, ledger_->entries_of_kind(Kind::kEnrol, 1, 10)->size());
  EXPECT_EQ(Code::kBadInput, ledger_->entries_of_kind(Kind::kStrip, 0, 1).error().code);
}

TEST_F(ReadTest, LargeBodiesAndManyKindsOfBytesComeBackWhole) {
  auto a = truck(1);
  std::string noise(61'440, '\0');
  uint32_t state = 1;
  for (char& c : noise) c = static_cast<char>((state = state * 1'664'525U + 1'013'904'223U) >> 24);
  for (const std::string& body : {std::string(61'440, 'x'), noise, std::string("\0", 1)}) {
    EXPECT_EQ(body, ledger_->entry(put(a.next(Kind::kStrip, {}, body)))->body);
  }
}

TEST_F(ReadTest, AttachmentsAreKeptByContent) {
  const std::string photo(200'000, 'p');
  const auto hash = ledger_->put_attachment(photo);
  ASSERT_TRUE(hash) << hash.error().message;
  EXPECT_EQ(sha256(photo), *hash);
  EXPECT_EQ(photo, *ledger_->attachment(*hash));
  auto writer = ledger_->begin_attachment();
  ASSERT_TRUE(writer);
  ASSERT_TRUE(writer->write("pp"));
  ASSERT_TRUE(writer->write("q"));
  EXPECT_EQ(sha256("ppq"), *writer->finish());
  EXPECT_TRUE(ledger_->has_attachment(sha256("ppq")));
  {
    auto dropped = ledger_->begin_attachment();
    ASSERT_TRUE(dropped->write("never finished"));
  }
  EXPECT_FALSE(ledger_->has_attachment(sha256("never finished")));
  EXPECT_EQ(2U, ledger_->audit()->attachments);
  EXPECT_EQ(Code::kNotFound, ledger_->attachment(sha256("x")).error().code);
}

}  // namespace
}  // namespace fairlead::ledger
