// The record's promises G4 and G5: a process that appends is killed with SIGKILL again and again;
// every entry it had acknowledged is in the ledger exactly once, with the bytes acknowledged, and
// the whole ledger verifies. 20 kills; FAIRLEAD_KILLS=1000 is the long form.
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <random>

#include "tests/unit/ledger/ledger_world.h"

namespace fairlead::ledger {
namespace {

constexpr uint8_t kTrucks = 5;

// What the child says once an entry is acknowledged; short enough for one indivisible write.
struct Ack {
  uint8_t truck = 0;
  uint64_t seq = 0;
  uint64_t leaf = 0;
  Hash chain{};
};

// Appends until killed. Starts some entries back, as a truck does that missed the last answers.
[[noreturn]] void child(const Options& options, int acks, unsigned seed) {
  auto opened = open_sqlite(options);
  if (!opened) ::_exit(3);
  auto& ledger = **opened;
  std::mt19937 random(seed);
  std::map<uint8_t, TestTruck> trucks;
  for (uint8_t number = 1; number <= kTrucks; ++number) {
    auto mark = *ledger.watermark(id_of(number));
    const auto back = ledger.device_entries(id_of(number), 1, 1, 1U << 20, false);
    const uint64_t again = mark.seq == 0 ? 0 : random() % std::min<uint64_t>(mark.seq, 4);
    if (again > 0) {
      mark.seq -= again;
      mark.chain = mark.seq == 0 ? record::decode_header(back->at(0).entry)->prev
                                 : record::chain_of(back->at(mark.seq - 1).entry);
    }
    trucks.emplace(number, TestTruck(number, mark));
  }
  for (;;) {
    const auto number = static_cast<uint8_t>(1 + random() % kTrucks);
    std::vector<SentEntry> batch;
    for (size_t i = 1 + random() % 5; i > 0; --i) batch.push_back(trucks.at(number).next());
    ledger.append(
        std::move(batch),
        [acks, number](Result<std::vector<AppendResult>> results) {
          if (!results) ::_exit(4);
          for (const auto& result : *results) {
            if (result.outcome == Outcome::kRefused) ::_exit(5);
            Ack ack;
            ack.truck = number;
            ack.seq = record::decode_header(result.entry)->seq;
            ack.leaf = result.leaf;
            ack.chain = record::chain_of(result.entry);
            if (::write(acks, &ack, sizeof ack) != sizeof ack) ::_exit(6);
          }
        },
        random() % 4 == 0);
    if (random() % 8 == 0) ::usleep(1'000);
    if (ledger.size() > 100'000) ::_exit(7);
  }
}

std::vector<Ack> acks_of_killed_child(const Options& options, unsigned seed, int after_ms) {
  int ends[2];
  if (::pipe(ends) != 0) return {};
  const pid_t pid = ::fork();
  if (pid == 0) {
    ::close(ends[0]);
    child(options, ends[1], seed);
  }
  ::close(ends[1]);
  // The time runs from the first answer, so that a slow start is not all there is to kill.
  std::vector<Ack> acks;
  Ack ack;
  if (::read(ends[0], &ack, sizeof ack) == sizeof ack) acks.push_back(ack);
  std::thread killer([pid, after_ms] {
    ::usleep(static_cast<useconds_t>(after_ms) * 1'000);
    ::kill(pid, SIGKILL);
  });
  while (::read(ends[0], &ack, sizeof ack) == sizeof ack) acks.push_back(ack);
  killer.join();
  int status = 0;
  ::waitpid(pid, &status, 0);
  EXPECT_TRUE(WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL)
      << "the child ended by itself: " << WEXITSTATUS(status);
  ::close(ends[0]);
  return acks;
}

using Acks = std::map<std::pair<uint8_t, uint64_t>, Ack>;

void expect_all_there_once(const Ledger& ledger, const Acks& acknowledged) {
  std::map<std::pair<uint8_t, uint64_t>, std::pair<uint64_t, Hash>> stored;
  for (uint64_t from = 0; from < ledger.size(); from += 1'000) {
    const auto entries = ledger.entries(from, 1'000, false);
    ASSERT_TRUE(entries) << entries.error().message;
    for (const auto& entry : *entries) {
      const auto header = entry.header();
      const auto [at, once] = stored.emplace(std::pair(header.device_id[0], header.seq),
                                             std::pair(entry.leaf, record::chain_of(entry.entry)));
      EXPECT_TRUE(once) << "stored twice: truck " << int{header.device_id[0]} << " seq "
                        << header.seq;
    }
  }
  for (const auto& [key, ack] : acknowledged) {
    const auto found = stored.find(key);
    ASSERT_NE(stored.end(), found) << "lost: truck " << int{key.first} << " seq " << key.second;
    ASSERT_EQ(std::pair(ack.leaf, ack.chain), found->second);
  }
}

// Some kills of one ledger; gives the number of entries acknowledged.
size_t kill_again_and_again(int kills, std::minstd_rand& random) {
  const TestFolder folder;
  const auto options = base_options(folder.path());
  {
    const auto ledger = open_or_fail(options);
    for (uint8_t number = 1; number <= kTrucks; ++number) (void)enrol(*ledger, number);
  }
  Acks acknowledged;
  for (int round = 0; round < kills && !testing::Test::HasFatalFailure(); ++round) {
    const auto acks = acks_of_killed_child(options, static_cast<unsigned>(random()),
                                           static_cast<int>(random() % 120));
    for (const auto& ack : acks) {
      const auto [at, first] = acknowledged.emplace(std::pair(ack.truck, ack.seq), ack);
      EXPECT_EQ(at->second.leaf, ack.leaf) << "acknowledged twice, at two places";
      EXPECT_EQ(at->second.chain, ack.chain);
    }
    const auto ledger = open_or_fail(options);
    EXPECT_NE(nullptr, ledger) << "round " << round;
    if (ledger == nullptr) break;
    if (round + 1 == kills) {  // Reads every signature.
      const auto report = ledger->audit();
      EXPECT_TRUE(report && report->problems.empty()) << "round " << round;
    }
    expect_all_there_once(*ledger, acknowledged);
  }
  return acknowledged.size();
}

TEST(LedgerKill, EveryAcknowledgedEntryIsThereExactlyOnce) {
  // A fresh ledger now and then, so that none becomes too long to be read after every kill.
  constexpr int kOnOneLedger = 20;
  const char* asked = std::getenv("FAIRLEAD_KILLS");
  const int kills = asked == nullptr ? 20 : std::atoi(asked);
  ASSERT_GE(kills, 1) << "FAIRLEAD_KILLS: give a number of kills";
  std::minstd_rand random(20260302);
  size_t acknowledged = 0;
  for (int done = 0; done < kills && !HasFailure();) {
    const int next = std::min(kOnOneLedger, kills - done);
    acknowledged += kill_again_and_again(next, random);
    done += next;
    std::printf("%d of %d kills, %zu acknowledged entries, all there once\n", done, kills,
                acknowledged);
    std::fflush(stdout);
  }
  EXPECT_GT(acknowledged, static_cast<size_t>(kills)) << "the children got nowhere";
}

}  // namespace
}  // namespace fairlead::ledger
