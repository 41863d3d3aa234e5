// The plugin's state machine against its table: every state with every event, before and after the
// state's deadline. The times are the contract's: 5 s to start, stale after 1.5 s, SIGKILL 2 s
// after SIGTERM, back-off 0.5 s doubling to 10 s, starting over after 60 s of health.
#include "daemon/sensors/life.h"

#include <gtest/gtest.h>

#include <map>
#include <vector>

namespace fairlead::sensors {
namespace {

constexpr int64_t kMs = 1000;
constexpr int64_t kS = 1'000'000;
constexpr std::array kStates = {State::kIdle,  State::kStarting, State::kLive,
                                State::kStale, State::kStopping, State::kBackoff};
constexpr std::array kEvents = {Event::kStart,  Event::kSpawnFailed,  Event::kDescribed,
                                Event::kBeat,   Event::kStreamBroken, Event::kBreach,
                                Event::kExited, Event::kStop,         Event::kTick};

// A machine brought into `state` at time 0.
Life machine_in(State state) {
  Life life;
  if (state == State::kIdle) return life;
  life.on(Event::kStart, 0);
  if (state == State::kLive || state == State::kStale) life.on(Event::kDescribed, 0);
  if (state == State::kStale) life.on(Event::kStreamBroken, 0);
  if (state == State::kStopping) life.on(Event::kBreach, 0);
  if (state == State::kBackoff) life.on(Event::kExited, 0);
  EXPECT_EQ(life.state(), state);
  return life;
}

std::string orders_text(const Orders& o) {
  std::string text;
  if (o.spawn) text += "spawn ";
  if (o.terminate) text += "term ";
  if (o.kill) text += "kill ";
  if (o.tell_live) text += "live ";
  if (!o.gap.empty()) text += "gap ";
  return text;
}

struct Row {
  State next;
  std::string orders;
};
using Table = std::map<std::pair<State, Event>, Row>;

// What is not listed changes nothing.
void expect_table(const Table& table, int64_t at_us) {
  for (State state : kStates) {
    for (Event event : kEvents) {
      Life life = machine_in(state);
      Orders orders = life.on(event, at_us, "because");
      auto row = table.find({state, event});
      State next = row == table.end() ? state : row->second.next;
      std::string want = row == table.end() ? "" : row->second.orders;
      SCOPED_TRACE(std::string(state_name(state)) + " event " +
                   std::to_string(static_cast<int>(event)));
      EXPECT_EQ(life.state(), next);
      EXPECT_EQ(orders_text(orders), want);
    }
  }
}

Table table_in_time() {
  using enum State;
  using E = Event;
  return {
      {{kIdle, E::kStart}, {kStarting, "spawn "}},
      {{kStarting, E::kSpawnFailed}, {kBackoff, "gap "}},
      {{kStarting, E::kDescribed}, {kLive, "live "}},
      {{kStarting, E::kBreach}, {kStopping, "term gap "}},
      {{kStarting, E::kExited}, {kBackoff, "gap "}},
      {{kStarting, E::kStop}, {kStopping, "term "}},
      {{kLive, E::kStreamBroken}, {kStale, "gap "}},
      {{kLive, E::kBreach}, {kStopping, "term gap "}},
      {{kLive, E::kExited}, {kBackoff, "gap "}},
      {{kLive, E::kStop}, {kStopping, "term "}},
      {{kStale, E::kDescribed}, {kLive, "live "}},
      {{kStale, E::kBeat}, {kLive, "live "}},
      {{kStale, E::kBreach}, {kStopping, "term gap "}},
      {{kStale, E::kExited}, {kBackoff, "gap "}},
      {{kStale, E::kStop}, {kStopping, "term "}},
      {{kStopping, E::kExited}, {kBackoff, ""}},
      {{kBackoff, E::kStop}, {kIdle, ""}},
  };
}

TEST(LifeTest, EveryStateWithEveryEventBeforeTheDeadline) { expect_table(table_in_time(), 1); }

TEST(LifeTest, EveryStateWithEveryEventAfterTheDeadline) {
  using enum State;
  Table table = table_in_time();
  table[{kStarting, Event::kTick}] = {kStopping, "term gap "};
  table[{kLive, Event::kTick}] = {kStale, "gap "};
  table[{kStale, Event::kTick}] = {kStopping, "term "};
  table[{kStopping, Event::kTick}] = {kStopping, "kill "};
  table[{kBackoff, Event::kTick}] = {kStarting, "spawn "};
  expect_table(table, 5 * kS);
}

TEST(LifeTest, ASilentLoopIsStaleInTimeForTheRecordAndNotBefore) {
  Life life = machine_in(State::kLive);
  life.on(Event::kBeat, 1 * kS);
  EXPECT_TRUE(life.on(Event::kTick, 2500 * kMs - 1).gap.empty());
  EXPECT_EQ(life.state(), State::kLive);
  EXPECT_EQ(life.on(Event::kTick, 2500 * kMs).gap, "no heartbeat from the plugin for 1.5 s");
  EXPECT_EQ(life.state(), State::kStale);
}

TEST(LifeTest, StaleForFiveSecondsIsStoppedThenKilled) {
  Life life = machine_in(State::kLive);
  life.on(Event::kTick, 2 * kS);
  EXPECT_FALSE(life.on(Event::kTick, 7 * kS - 1).terminate);
  EXPECT_TRUE(life.on(Event::kTick, 7 * kS).terminate);
  EXPECT_FALSE(life.on(Event::kTick, 9 * kS - 1).kill);
  EXPECT_TRUE(life.on(Event::kTick, 9 * kS).kill);
  EXPECT_TRUE(life.on(Event::kTick, 11 * kS).kill) << "again until it is gone";
}

TEST(LifeTest, BackoffDoublesToTenSecondsAndNeverGivesUp) {
  Life life;
  int64_t now = 0;
  life.on(Event::kStart, now);
  std::vector<int64_t> waits_ms;
  for (int i = 0; i < 1000; ++i) {
    life.on(Event::kExited, now);
    ASSERT_EQ(life.state(), State::kBackoff);
    int64_t wait = life.backoff_us();
    EXPECT_FALSE(life.on(Event::kTick, now + wait - 1).spawn);
    now += wait;
    ASSERT_TRUE(life.on(Event::kTick, now).spawn);
    if (i < 8) waits_ms.push_back(wait / kMs);
  }
  EXPECT_EQ(waits_ms, (std::vector<int64_t>{500, 1000, 2000, 4000, 8000, 10000, 10000, 10000}));
  EXPECT_EQ(life.starts(), 1001);
}

TEST(LifeTest, AMinuteOfHealthStartsTheBackoffOver) {
  auto backoff_after_live_for = [](int64_t live_us) {
    Life life;
    life.on(Event::kStart, 0);
    life.on(Event::kExited, 0);
    life.on(Event::kTick, kS);
    life.on(Event::kDescribed, kS);
    life.on(Event::kBeat, kS + live_us);
    life.on(Event::kExited, kS + live_us);
    return life.backoff_us() / kMs;
  };
  EXPECT_EQ(backoff_after_live_for(59 * kS), 1000);
  EXPECT_EQ(backoff_after_live_for(60 * kS), 500);
}

TEST(LifeTest, AfterStopTheEndOfTheProcessEndsItForGood) {
  Life life = machine_in(State::kLive);
  life.on(Event::kStop, 1);
  EXPECT_EQ(life.on(Event::kExited, 2).gap, "stopped with the daemon");
  EXPECT_EQ(life.state(), State::kIdle);
  EXPECT_FALSE(life.on(Event::kStart, 3).spawn);
  EXPECT_FALSE(life.on(Event::kTick, 1000 * kS).spawn);
}

TEST(LifeTest, TheGapTellsHowThePluginEnded) {
  EXPECT_EQ(machine_in(State::kLive).on(Event::kExited, 1, "killed by signal 9").gap,
            "plugin ended: killed by signal 9");
}

}  // namespace
}  // namespace fairlead::sensors
