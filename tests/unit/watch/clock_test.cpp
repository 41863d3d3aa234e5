// Clocks that are wrong: whatever the wall clock does, every line is recorded, and a step of more
// than 2 s against the monotonic clock is a CLOCK entry that says from where to where.
// FAIRLEAD_CLOCKS sets how many steps; the steps come from a fixed seed.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <random>

#include "daemon/base/time_text.h"
#include "daemon/watch/job_record.h"
#include "daemon/watch/recorder.h"
#include "tests/unit/uplink/temp_base.h"

namespace fairlead {
namespace {

constexpr int64_t kSecond = 1'000'000, kYear = 365 * 86'400 * kSecond;
constexpr int64_t kStart = 1'793'000'000 * kSecond;

// A machine's clocks, moved by hand.
struct Machine {
  int64_t wall_us = kStart, mono_us = 5 * kSecond;
  record::Id16 boot = random_array<16>();

  void pass(int64_t us) {
    wall_us += us;
    mono_us += us;
  }
  void reboot() {
    boot = random_array<16>();
    mono_us = kSecond;
  }
};

// A base whose import device runs on the machine's clocks.
class Bench {
 public:
  Bench() {
    v1::EnrolBody body;
    id_ = random_array<16>();
    body.set_device_id(string_of(id_));
    body.set_public_key(string_of(key_->public_key().bytes));
    body.set_device_name("import");
    body.set_kind(v1::EnrolBody::IMPORT);
    EXPECT_TRUE(base_.devices().enrol(body));
    start();
  }
  void start() {
    watch::RecorderOptions options;
    options.device_id = id_;
    options.key = key_;
    options.clocks = {[this] { return machine.wall_us; }, [this] { return machine.mono_us; },
                      [this] { return machine.boot; }};
    recorder_ = std::make_unique<watch::Recorder>(base_.ledger(), std::move(options));
    ASSERT_TRUE(recorder_->start("test"));
  }
  void say(const std::string& text) {
    v1::Observation line;
    line.set_time("2027-01-01T00:00:00Z");
    line.set_job("J-1");
    line.set_source("operator");
    line.mutable_note()->set_text(text);
    const auto said = recorder_->say_now(line);
    ASSERT_TRUE(said) << said.error().message;
  }
  std::vector<v1::ClockBody> steps() {
    std::vector<v1::ClockBody> out;
    for (const auto& entry : base_.of_device(id_)) {
      if (entry.header().kind != record::Kind::kClock) continue;
      EXPECT_TRUE(out.emplace_back().ParseFromString(entry.body));
    }
    return out;
  }
  std::vector<ledger::StoredEntry> entries() { return base_.of_device(id_); }
  watch::Recorder& recorder() { return *recorder_; }
  ledger::Ledger& ledger() { return base_.ledger(); }
  void stop() { recorder_.reset(); }

  Machine machine;

 private:
  test::TempBase base_;
  record::Id16 id_{};
  std::shared_ptr<const SecretKey> key_ = std::make_shared<const SecretKey>(SecretKey::generate());
  std::unique_ptr<watch::Recorder> recorder_;
};

TEST(Clock, AStepIsAnEntryThatSaysFromWhereToWhere) {
  Bench bench;
  bench.machine.pass(60 * kSecond);
  bench.machine.wall_us -= 3'600 * kSecond;
  bench.recorder().tick();
  bench.say("after");
  const auto steps = bench.steps();
  ASSERT_EQ(steps.size(), 1U);
  EXPECT_EQ(steps[0].expected_wall_us(), kStart + 60 * kSecond);
  EXPECT_EQ(steps[0].wall_us(), kStart + 60 * kSecond - 3'600 * kSecond);
  EXPECT_EQ(steps[0].mono_us(), 65'000'000U);
  // The entry after it already bears the new time, and the step stands before it.
  const auto entries = bench.entries();
  EXPECT_EQ(entries.back().header().wall_us, steps[0].wall_us());
}

TEST(Clock, TwoSecondsAreNoStepAndSlowDriftIsNone) {
  Bench bench;
  bench.machine.wall_us += 2 * kSecond;
  bench.recorder().tick();
  EXPECT_TRUE(bench.steps().empty()) << "2 s is not more than 2 s";
  bench.machine.wall_us += 1;
  bench.recorder().tick();
  bench.say("after");
  EXPECT_EQ(bench.steps().size(), 1U);
}

// Whoever asks for the job learns of the step; time that ran back over a start shows too.
TEST(Clock, TheJobShowsIt) {
  Bench bench;
  v1::Observation opened;
  opened.set_time("2027-01-01T00:00:00Z");
  opened.set_job("J-1");
  opened.set_source("operator");
  opened.mutable_opened()->set_vehicle("unknown");
  opened.mutable_opened()->set_truck("OW-02");
  opened.mutable_opened()->set_operator_("card-1");
  ASSERT_TRUE(bench.recorder().say_now(opened));
  bench.machine.wall_us += 12 * kSecond;
  bench.say("after");
  const auto job = watch::read_job(bench.ledger(), watch::job_id_of("J-1"));
  ASSERT_TRUE(job) << job.error().message;
  ASSERT_EQ(job->clock_steps.size(), 1U);
  EXPECT_EQ(job->clock_steps[0].shown_us - job->clock_steps[0].expected_us, 12 * kSecond);
  bench.stop();
  bench.machine.reboot();
  bench.machine.wall_us = 0;
  bench.start();
  const auto steps = bench.steps();
  ASSERT_EQ(steps.size(), 2U);
  EXPECT_EQ(steps[1].wall_us(), 0);
  EXPECT_EQ(steps[1].expected_wall_us(), kStart + 12 * kSecond);
}

TEST(Clock, NoStepIsEverRefusedAndEachIsFlagged) {
  const char* asked = std::getenv("FAIRLEAD_CLOCKS");
  const int rounds = asked ? std::atoi(asked) : 20;
  ASSERT_GT(rounds, 0);
  Bench bench;
  std::mt19937_64 random(20'261'125);
  constexpr std::array kSizes = {kSecond,         2 * kSecond,      3 * kSecond, 60 * kSecond,
                                 3'600 * kSecond, 86'400 * kSecond, kYear,       10 * kYear};
  size_t notes = 0, flagged = 0;
  // Small steps add up: what counts is the distance from where the clock last stood right.
  int64_t drift_us = 0, last_entry_us = bench.machine.wall_us;
  for (int i = 0; i < rounds; ++i) {
    bench.machine.pass(static_cast<int64_t>(random() % 100) * kSecond / 10);
    const int64_t before_us = bench.machine.wall_us;
    const bool reboot = random() % 5 == 0;
    if (reboot) {
      bench.stop();
      bench.machine.reboot();
    }
    if (random() % 7 == 0) {
      bench.machine.wall_us = static_cast<int64_t>(random() % 100) * kSecond;  // 1970.
    } else {
      const int64_t size = kSizes[random() % kSizes.size()];
      bench.machine.wall_us += random() % 2 == 0 ? size : -size;
    }
    drift_us += bench.machine.wall_us - before_us;
    // Over a reboot only time that ran back is certain; how long the machine was off is not known.
    const bool stepped = reboot ? last_entry_us - bench.machine.wall_us > 2 * kSecond
                                : std::llabs(drift_us) > 2 * kSecond;
    flagged += stepped;
    if (reboot || stepped) drift_us = 0;
    if (reboot) bench.start();
    if (random() % 2 == 0) bench.recorder().tick();
    bench.say(fmt::format("note {}", ++notes));
    last_entry_us = bench.machine.wall_us;
  }
  size_t recorded = 0;
  for (const auto& entry : bench.entries()) {
    const auto lines = record::observations_of(entry.header().kind, entry.body);
    ASSERT_TRUE(lines) << lines.error().message;
    for (const auto& line : *lines) recorded += line.has_note();
  }
  EXPECT_EQ(recorded, notes) << "every line is on record";
  EXPECT_EQ(bench.steps().size(), flagged);
  const auto audit = bench.ledger().audit();
  ASSERT_TRUE(audit);
  EXPECT_TRUE(audit->problems.empty()) << audit->problems.front();
}

}  // namespace
}  // namespace fairlead
