// The record's promise G8: what is erased is gone from database, log, free pages and attachments,
// also when the process is killed in the middle, and every proof stays valid. Each body carries
// canaries nobody else has: its salt and random digits. 20 rounds; FAIRLEAD_ERASURES=1000 is the
// long form.
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <thread>

#include "daemon/record/merkle.h"
#include "tests/fault/ledger_child.h"

namespace fairlead::ledger {
namespace {

namespace fs = std::filesystem;

struct Written {
  uint64_t leaf = 0;
  std::string body, salt;
  std::string photo;  // Content of an attachment that only this entry names.
};

std::string digits(std::mt19937& random, size_t count) {
  std::string out;
  while (out.size() < count) out += hex_of(std::to_string(random()));
  out.resize(count);
  return out;
}

// Entries of every size, from one line to bodies over several pages; some name an attachment.
std::vector<Written> fill(Ledger& ledger, std::mt19937& random, int entries) {
  std::vector<Written> out;
  TestTruck truck(1, *ledger.watermark(id_of(1)));
  for (int i = 0; i < entries; ++i) {
    Written written;
    v1::ObservationsBody body;
    body.add_observation()->mutable_note()->set_text(
        digits(random, random() % 4 == 0 ? 4'000 + random() % 20'000 : 20 + random() % 700));
    if (random() % 4 == 0) {
      written.photo = digits(random, 3'000);
      EXPECT_TRUE(ledger.put_attachment(written.photo));
      body.add_observation()->mutable_photo()->set_sha256(hex_of(sha256(written.photo)));
    }
    written.body = body.SerializeAsString();
    auto sent = truck.next(Kind::kObservations, {}, written.body);
    written.salt = string_of(sent.salt);
    const auto result = append_one(ledger, sent);
    EXPECT_EQ(Outcome::kStored, result.outcome);
    written.leaf = result.leaf;
    out.push_back(std::move(written));
  }
  return out;
}

void erase(Ledger& ledger, std::vector<uint64_t> leaves) {
  EraseOrder order;
  order.leaves = std::move(leaves);
  order.policy = "request of the person";
  order.own.header.device_id = id_of(kOfficer);
  order.own.key = key_of(kOfficer);
  (void)ledger.erase(order);
}

std::string all_bytes(const fs::path& folder) {
  std::string all;
  for (const auto& file : fs::recursive_directory_iterator(folder)) {
    if (!file.is_regular_file()) continue;
    std::ifstream in(file.path(), std::ios::binary);
    all.append(std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>());
    all += '\n';
  }
  return all;
}

// Pieces of a body that survive packing: digits pack to more than half, so 24 of them in a row may
// not stand there, but the salt does as it is.
void expect_gone(const std::string& all, const Written& written) {
  EXPECT_EQ(std::string::npos, all.find(written.salt)) << "salt of leaf " << written.leaf;
  EXPECT_EQ(std::string::npos, all.find(written.body.substr(8, 24))) << "leaf " << written.leaf;
  if (!written.photo.empty()) {
    EXPECT_EQ(std::string::npos, all.find(written.photo)) << "photo of leaf " << written.leaf;
  }
}

// Salts as a truck makes them: random, unlike the test's usual ones.
class Canaries : public testing::Test {
 protected:
  Canaries() : options_(base_options(folder_.path())) {}

  void check(const std::vector<Written>& all, const std::set<uint64_t>& must_be_gone) {
    const auto ledger = open_or_fail(options_);
    ASSERT_NE(nullptr, ledger);
    const auto report = ledger->audit();
    ASSERT_TRUE(report && report->problems.empty()) << report->problems[0];
    const std::string bytes = all_bytes(folder_.path());
    size_t seen = 0;
    for (const Written& written : all) {
      const auto entry = *ledger->entry(written.leaf);
      const auto path = ledger->inclusion(written.leaf, ledger->size());
      ASSERT_TRUE(path && record::verify_inclusion(written.leaf, ledger->size(),
                                                   record::leaf_hash_of(entry.entry, entry.recv_us),
                                                   *path, *ledger->root_at(ledger->size())));
      if (entry.body_state == BodyState::kErased) {
        expect_gone(bytes, written);
        continue;
      }
      EXPECT_FALSE(must_be_gone.contains(written.leaf));
      EXPECT_EQ(written.body, entry.body);
      seen += bytes.find(written.salt) != std::string::npos;
      if (!written.photo.empty()) {
        EXPECT_TRUE(ledger->attachment(sha256(written.photo)));
      }
    }
    EXPECT_GT(seen, 0U) << "the search finds what is there";
  }

  TestFolder folder_;
  Options options_;
};

TEST_F(Canaries, NothingErasedIsFoundInAnyFile) {
  const int rounds = rounds_asked("FAIRLEAD_ERASURES", 20);
  ASSERT_GE(rounds, 1) << "FAIRLEAD_ERASURES: give a number of rounds";
  std::mt19937 random(20260304);
  size_t erased = 0, killed = 0;
  for (int round = 0; round < rounds; ++round) {
    fs::remove_all(options_.folder);
    fs::remove(options_.head_file);
    std::vector<Written> all;
    std::set<uint64_t> gone;
    {
      const auto ledger = open_or_fail(options_);
      ASSERT_NE(nullptr, ledger);
      (void)enrol(*ledger, 1);
      all = fill(*ledger, random, 60);
      // In several goes, with writing in between, as pages fill, empty and are used again.
      for (int go = 0; go < 3; ++go) {
        std::vector<uint64_t> leaves;
        for (const Written& written : all) {
          if (random() % 4 == 0 && gone.insert(written.leaf).second) leaves.push_back(written.leaf);
        }
        erase(*ledger, leaves);
        const std::string bytes = all_bytes(folder_.path());
        for (const Written& written : all) {
          if (gone.contains(written.leaf)) expect_gone(bytes, written);
        }
        for (Written& more : fill(*ledger, random, 10)) all.push_back(std::move(more));
      }
    }
    erased += gone.size();
    if (HasFailure()) break;
    // Killed in the middle of one more.
    std::vector<uint64_t> leaves;
    for (const Written& written : all) {
      if (random() % 3 == 0) leaves.push_back(written.leaf);
    }
    const auto after_us = static_cast<useconds_t>(random() % 30'000);
    const int status = run_child(
        [&](int) {
          const auto ledger = open_sqlite(options_);
          if (!ledger) ::_exit(3);
          std::thread([after_us] {
            ::usleep(after_us);
            ::kill(::getpid(), SIGKILL);
          }).detach();
          for (const uint64_t leaf : leaves) erase(**ledger, {leaf});
          ::usleep(100'000);
        },
        [](const Ack&) {});
    killed += WIFSIGNALED(status);
    ASSERT_NO_FATAL_FAILURE(check(all, gone)) << "round " << round;
    if (HasFailure()) break;
    if (rounds > 20 && round % 50 == 49) {
      std::printf("%d of %d rounds\n", round + 1, rounds);
      std::fflush(stdout);
    }
  }
  std::printf("%d rounds, %zu bodies erased, %zu killed in the middle: nothing found\n", rounds,
              erased, killed);
}

}  // namespace
}  // namespace fairlead::ledger
