// A child process that appends to a ledger and says of each entry when it was acknowledged; and the
// parent's side: what was acknowledged must be there, once, with the bytes acknowledged.
//
// Threads: one a process; the child forks before it opens anything.
#pragma once

#include <sys/wait.h>
#include <unistd.h>

#include <map>
#include <random>
#include <set>

#include "tests/unit/ledger/ledger_world.h"

namespace fairlead::ledger {

/// What the child says, short enough for one indivisible write. truck 0: a mark of its own.
struct Ack {
  uint8_t truck = 0;
  uint64_t seq = 0;
  uint64_t leaf = 0;
  Hash chain{};
};

inline bool say(int pipe, const Ack& ack) { return ::write(pipe, &ack, sizeof ack) == sizeof ack; }

using Acks = std::map<std::pair<uint8_t, uint64_t>, Ack>;

/// Appends `batches` batches of up to five entries of `trucks` trucks, each in its own call, and
/// waits for each; a refusal for want of room is answered by going on. Returns false when the
/// ledger failed for good.
inline bool append_some(Ledger& ledger, int acks, int trucks, int batches, std::mt19937& random) {
  std::map<uint8_t, TestTruck> senders;
  for (int number = 1; number <= trucks; ++number) {
    const auto id = static_cast<uint8_t>(number);
    senders.emplace(id, TestTruck(id, *ledger.watermark(id_of(id))));
  }
  for (int i = 0; i < batches; ++i) {
    const auto number = static_cast<uint8_t>(1 + random() % static_cast<unsigned>(trucks));
    TestTruck tried = senders.at(number);
    std::vector<SentEntry> batch;
    for (size_t n = 1 + random() % 5; n > 0; --n)
      batch.push_back(tried.next(Kind::kObservations, {},
                                 std::string(random() % 900, 'x') + std::to_string(i)));
    const auto results = ledger.append(std::move(batch)).get();
    if (!results && results.error().code == Code::kUnavailable) continue;  // Tried again later.
    if (!results) return false;
    senders.at(number) = tried;
    for (const auto& result : *results) {
      if (result.outcome == Outcome::kRefused) ::_exit(5);
      Ack ack{number, record::decode_header(result.entry)->seq, result.leaf,
              record::chain_of(result.entry)};
      if (!say(acks, ack)) ::_exit(6);
    }
  }
  return true;
}

/// Every acknowledged entry is there exactly once, and everything verifies.
inline void expect_all_there(const Ledger& ledger, const Acks& acks) {
  const auto report = ledger.audit();
  ASSERT_TRUE(report) << report.error().message;
  ASSERT_TRUE(report->problems.empty()) << report->problems[0];
  std::map<std::pair<uint8_t, uint64_t>, std::pair<uint64_t, Hash>> stored;
  for (uint64_t from = 0; from < ledger.size(); from += 1'000) {
    const auto page = *ledger.entries(from, 1'000, false);
    for (const auto& entry : page) {
      const auto header = entry.header();
      const bool once = stored
                            .emplace(std::pair(header.device_id[0], header.seq),
                                     std::pair(entry.leaf, record::chain_of(entry.entry)))
                            .second;
      ASSERT_TRUE(once) << "stored twice: " << int{header.device_id[0]} << " " << header.seq;
    }
  }
  for (const auto& [key, ack] : acks) {
    const auto found = stored.find(key);
    ASSERT_NE(stored.end(), found) << "lost: truck " << int{key.first} << " seq " << key.second;
    ASSERT_EQ(std::pair(ack.leaf, ack.chain), found->second);
  }
}

/// Runs `body(pipe)` in a child; gives its exit status, and each of its words to `hear`.
template <typename Body, typename Hear>
int run_child(Body body, Hear hear) {
  int ends[2];
  if (::pipe(ends) != 0) return -1;
  const pid_t pid = ::fork();
  if (pid == 0) {
    ::close(ends[0]);
    body(ends[1]);
    ::_exit(0);
  }
  ::close(ends[1]);
  for (Ack ack; ::read(ends[0], &ack, sizeof ack) == sizeof ack;) hear(ack);
  ::close(ends[0]);
  int status = 0;
  ::waitpid(pid, &status, 0);
  return status;
}

/// How many rounds: the environment's word, or the short form's number.
inline int rounds_asked(const char* name, int few) {
  const char* asked = std::getenv(name);
  return asked == nullptr ? few : std::atoi(asked);
}

}  // namespace fairlead::ledger
