// The record's section 6: everything but leaves, bodies and attachments can be built again.
#include "daemon/ledger/sqlite/rebuild.h"

#include <gmock/gmock.h>

#include <array>

#include "daemon/ledger/sqlite/database.h"
#include "tests/unit/ledger/ledger_world.h"

namespace fairlead::ledger {
namespace {

using testing::HasSubstr;
using testing::IsEmpty;

constexpr std::array<uint8_t, 2> kTrucks = {1, 2};

class RebuildTest : public testing::Test {
 protected:
  RebuildTest() : options_(base_options(folder_.path())) {
    const auto ledger = open_or_fail(options_);
    for (const uint8_t device : kTrucks) (void)enrol(*ledger, device);
    v1::RegisterFileBody file;
    file.set_content("register");
    (void)officer_writes(*ledger, Kind::kRegister, file.SerializeAsString());
    for (const uint8_t device : kTrucks) {
      TestTruck truck(device, *ledger->watermark(id_of(device)));
      (void)append_one(*ledger, truck.next(Kind::kJobOpen, id_of(device)));
      for (int i = 0; i < 30; ++i) (void)append_one(*ledger, truck.next(Kind::kStrip));
      (void)append_one(*ledger, truck.next(Kind::kJobClose, id_of(device)));
      auto later = truck.next(Kind::kStrip);
      later.body_state = BodyState::kFollows;
      (void)append_one(*ledger, later);
    }
    EXPECT_TRUE(ledger->put_value("name", "value"));
    EXPECT_TRUE(ledger->sign_head());
    whole_ = told(*ledger);
    offline_.folder = options_.folder;
    offline_.log = options_.signer->log;
    offline_.head_file = options_.head_file;
    offline_.own = {{id_of(kOfficer), 1, key_of(kOfficer)->public_key(), sha256("roster")}};
  }

  // Everything a reader gets out.
  static std::string told(const Ledger& ledger) {
    std::string out;
    const auto entries = *ledger.entries(0, 1'000, true);
    for (const auto& entry : entries)
      out += string_of(entry.entry) + entry.body + std::to_string(entry.recv_us);
    const auto marks = *ledger.watermarks();
    for (const auto& mark : marks)
      out += hex_of(mark.chain) + std::to_string(mark.seq) + " " + std::to_string(mark.body_seq);
    const auto jobs = *ledger.jobs(0, 100);
    for (const auto& job : jobs)
      out += hex_of(job.job_id) + std::to_string(job.open_leaf) + " " +
             std::to_string(job.close_leaf.value_or(0));
    for (uint64_t leaf = 0; leaf < ledger.size(); ++leaf) {
      const auto path = *ledger.inclusion(leaf, ledger.size());
      for (const Hash& hash : path) out += string_of(hash);
    }
    return out + ledger.file(sha256("register")).value_or("gone") +
           ledger.value("name").value_or("gone");
  }
  void damage(const char* sql) {
    const auto database = Database::open(options_.folder / "ledger.db", Access::kWriter);
    ASSERT_TRUE(database);
    const auto done = database->run(sql);
    ASSERT_TRUE(done) << done.error().message;
  }

  TestFolder folder_;
  Options options_;
  OfflineLedger offline_;
  std::string whole_;
};

TEST_F(RebuildTest, AWholeLedgerIsLeftAlone) {
  const auto report = audit_offline(offline_, {});
  ASSERT_TRUE(report) << report.error().message;
  EXPECT_FALSE(report->rebuilt);
  EXPECT_THAT(report->report.problems, IsEmpty());
}

TEST_F(RebuildTest, EveryDerivedTableComesBack) {
  damage(
      "DELETE FROM node; DELETE FROM edge; DELETE FROM chain; DELETE FROM chain_key; "
      "DELETE FROM job; DELETE FROM file; DELETE FROM attached; UPDATE leaf SET kind = 3;");
  EXPECT_FALSE(open_sqlite(options_));
  const auto report = audit_offline(offline_, {});
  ASSERT_TRUE(report) << report.error().message;
  EXPECT_TRUE(report->rebuilt) << report->not_rebuilt;
  EXPECT_THAT(report->report.problems, IsEmpty());
  const auto ledger = open_or_fail(options_);
  ASSERT_NE(nullptr, ledger);
  EXPECT_EQ(whole_, told(*ledger));
}

TEST_F(RebuildTest, AnIndexThatDiffersFromItsTableComesBack) {
  damage("PRAGMA writable_schema=ON; DROP INDEX leaf_by_seq; DROP INDEX job_by_open;");
  damage("UPDATE job SET open_leaf = 1;");
  const auto report = audit_offline(offline_, {});
  ASSERT_TRUE(report && report->rebuilt) << report->not_rebuilt;
  EXPECT_EQ(whole_, told(*open_or_fail(options_)));
}

TEST_F(RebuildTest, ADamagedBodyIsNamedAndNothingIsRebuiltOverIt) {
  damage("DELETE FROM edge; UPDATE body SET bytes = zeroblob(length(bytes)) WHERE id = 10;");
  const auto report = audit_offline(offline_, {});
  ASSERT_TRUE(report) << report.error().message;
  EXPECT_FALSE(report->rebuilt);
  EXPECT_THAT(report->not_rebuilt, HasSubstr("leaf 9: its body is not the one signed for"));
  EXPECT_THAT(report->report.problems,
              testing::Contains(HasSubstr("leaf 9 (STRIP 7 of device 01010101): its body is not")));
  EXPECT_FALSE(std::filesystem::exists(options_.folder / "ledger.db.new"));
}

TEST_F(RebuildTest, AFolderInUseIsRefused) {
  const auto ledger = open_or_fail(options_);
  EXPECT_EQ(Code::kConflict, audit_offline(offline_, {}).error().code);
}

}  // namespace
}  // namespace fairlead::ledger
