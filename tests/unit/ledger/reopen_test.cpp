// What survives a restart, what a restart refuses, and what happens when the disk says no: the
// record's sections 6 and 7.
#include <gmock/gmock.h>
#include <sys/resource.h>

#include <csignal>
#include <fstream>

#include "tests/unit/ledger/ledger_world.h"

namespace fairlead::ledger {
namespace {

namespace fs = std::filesystem;

void fill(Ledger& ledger, int entries) {
  if (!ledger.watermark(id_of(1))) (void)enrol(ledger, 1);
  TestTruck truck(1, *ledger.watermark(id_of(1)));
  for (int i = 0; i < entries; ++i)
    EXPECT_EQ(Outcome::kStored, append_one(ledger, truck.next()).outcome);
}

TEST(Reopen, EverythingIsThereAgain) {
  const TestFolder folder;
  const auto options = base_options(folder.path());
  Watermark mark;
  Hash root;
  {
    const auto ledger = open_or_fail(options);
    fill(*ledger, 30);
    mark = *ledger->watermark(id_of(1));
    root = *ledger->root_at(31);
  }
  const auto ledger = open_or_fail(options);
  ASSERT_NE(nullptr, ledger);
  EXPECT_EQ(31U, ledger->size());
  EXPECT_EQ(mark.seq, ledger->watermark(id_of(1))->seq);
  EXPECT_EQ(mark.chain, ledger->watermark(id_of(1))->chain);
  EXPECT_EQ(root, *ledger->root_at(31));
  EXPECT_EQ(31U, ledger->head()->size) << "a last head is signed at the end";
  fill(*ledger, 5);
  EXPECT_THAT(ledger->audit()->problems, ::testing::IsEmpty());
}

TEST(Reopen, TwoProcessesCannotHaveOneLedger) {
  const TestFolder folder;
  const auto ledger = open_or_fail(base_options(folder.path()));
  const auto second = open_sqlite(base_options(folder.path()));
  ASSERT_FALSE(second);
  EXPECT_EQ(Code::kConflict, second.error().code);
}

TEST(Reopen, AnOlderCopyOfTheDatabaseIsRefused) {
  const TestFolder folder;
  const auto options = base_options(folder.path());
  {
    const auto ledger = open_or_fail(options);
    fill(*ledger, 3);
  }
  fs::copy(options.folder, folder.path() / "copy", fs::copy_options::recursive);
  {
    const auto ledger = open_or_fail(options);
    fill(*ledger, 3);
  }
  fs::remove_all(options.folder);
  fs::rename(folder.path() / "copy", options.folder);
  const auto restored = open_sqlite(options);
  ASSERT_FALSE(restored);
  EXPECT_EQ(Code::kCorrupt, restored.error().code);
  EXPECT_NE(std::string::npos, restored.error().message.find("older copy"))
      << restored.error().message;
}

TEST(Reopen, ADatabaseOfAnotherProgramIsRefused) {
  const TestFolder folder;
  const auto options = base_options(folder.path());
  fs::create_directories(options.folder);
  std::ofstream(options.folder / "ledger.db")
      << "This is not a database, but it is long enough to be read.";
  ASSERT_FALSE(open_sqlite(options));
}

TEST(Reopen, ATrucksLedgerHasNoTreeButRemembersWhatIsAcknowledged) {
  const TestFolder folder;
  Options options;
  options.folder = folder.path() / "truck";
  options.ledger_id = record::ledger_id_of("ozzlewick/fairlead/g1");
  HeldOrder order;
  order.leaf = 5;
  order.body = "order";
  EntryHeader header;
  header.kind = Kind::kOrder;
  ASSERT_TRUE(record::bind_body(header, order.salt, order.body));
  order.entry = record::sign_entry(header, *key_of(kOfficer));
  {
    const auto ledger = open_or_fail(options);
    ASSERT_TRUE(ledger->start_chain({id_of(1), 1, key_of(1)->public_key(), sha256("enrol leaf")}));
    OwnEntry own;
    own.header.device_id = id_of(1);
    own.body = "said";
    own.key = key_of(1);
    const auto stored = ledger->append_own({own, own}).get();
    ASSERT_TRUE(stored);
    EXPECT_EQ(options.ledger_id, record::decode_header(stored->at(1).entry)->ledger_id);
    ledger->set_acked(id_of(1), 2);
    ledger->set_acked(id_of(1), 1);  // Never back.
    ASSERT_TRUE(ledger->put_value("origin", "first"));
    ASSERT_TRUE(ledger->put_value("origin", "ozzlewick/fairlead/g1"));
    ASSERT_TRUE(ledger->put_order(order));
    EXPECT_EQ(Code::kBadInput, ledger->root_at(1).error().code);
  }
  const auto ledger = open_or_fail(options);
  EXPECT_EQ(2U, ledger->watermark(id_of(1))->acked_seq);
  EXPECT_EQ("ozzlewick/fairlead/g1", *ledger->value("origin"));
  EXPECT_EQ(Code::kNotFound, ledger->value("other").error().code);
  ASSERT_EQ(1U, ledger->orders(5)->size());
  EXPECT_EQ(order.entry, ledger->orders(5)->at(0).entry);
  EXPECT_TRUE(ledger->orders(6)->empty());
  EXPECT_TRUE(ledger->audit()->problems.empty());
}

// A process may not write files longer than a limit: every further write fails, as on a dying disk.
class FileSizeLimit {
 public:
  explicit FileSizeLimit(rlim_t bytes) {
    std::signal(SIGXFSZ, SIG_IGN);
    getrlimit(RLIMIT_FSIZE, &before_);
    const rlimit limit{bytes, before_.rlim_max};
    setrlimit(RLIMIT_FSIZE, &limit);
  }
  ~FileSizeLimit() { setrlimit(RLIMIT_FSIZE, &before_); }

 private:
  rlimit before_{};
};

TEST(Reopen, AfterAFailedWriteNothingIsAcknowledgedAndTheNextStartReadsAllAgain) {
  const TestFolder folder;
  const auto options = base_options(folder.path());
  {
    const auto ledger = open_or_fail(options);
    fill(*ledger, 4);
    TestTruck truck(1, *ledger->watermark(id_of(1)));
    {
      const FileSizeLimit limit(64);
      const auto lost = ledger->append({truck.next()}).get();
      ASSERT_FALSE(lost);
      EXPECT_EQ(Code::kIo, lost.error().code) << lost.error().message;
    }
    EXPECT_FALSE(ledger->failure().empty());
    EXPECT_FALSE(ledger->append({truck.next()}).get()) << "never again in this process";
    EXPECT_FALSE(ledger->put_value("x", "y"));
    EXPECT_EQ(5U, ledger->size());
  }
  std::ofstream(options.folder / "suspect") << "as the failed process would have left it";
  {
    const auto ledger = open_or_fail(options);
    ASSERT_NE(nullptr, ledger);
    EXPECT_FALSE(fs::exists(options.folder / "suspect")) << "cleared by a clean full read";
    EXPECT_EQ(5U, ledger->size());
    fill(*ledger, 2);
    (void)ledger->put_attachment("photo");
  }
  const auto photo = hex_of(sha256("photo"));
  std::ofstream(options.folder / "attachments" / photo.substr(0, 2) / photo) << "phot0";
  ASSERT_NE(nullptr, open_or_fail(options))
      << "attachments are read by the scrub, not at each start";
  std::ofstream(options.folder / "suspect") << "x";
  const auto refused = open_sqlite(options);
  ASSERT_FALSE(refused);
  EXPECT_EQ(Code::kCorrupt, refused.error().code);
}

}  // namespace
}  // namespace fairlead::ledger
