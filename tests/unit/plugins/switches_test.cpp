// Outputs of a plugin: in order, off by themselves in time, off without a daemon. Times and rules:
// proto/fairlead/v1/plugin_service.proto, PluginCommand.
#include "plugins/sdk/switches.h"

#include <gtest/gtest.h>

#include "plugins/sdk/feed.h"

namespace fairlead::sdk {
namespace {

constexpr int64_t kMs = 1000;

v1::PluginCommand command(uint64_t seq, const std::string& output, bool on, uint32_t for_ms = 0) {
  v1::PluginCommand c;
  c.set_command_seq(seq);
  c.set_output(output);
  c.set_on(on);
  c.set_for_ms(for_ms);
  return c;
}

TEST(SwitchesTest, GivesCommandsInOrder) {
  Switches s;
  EXPECT_FALSE(s.take(0));
  EXPECT_TRUE(s.command(command(1, "buzzer", true)));
  EXPECT_TRUE(s.command(command(2, "lamp", true)));
  EXPECT_TRUE(s.command(command(3, "buzzer", false)));
  for (uint64_t seq = 1; seq <= 3; ++seq) {
    EXPECT_TRUE(s.due(0));
    EXPECT_EQ(s.take(0)->command_seq(), seq);
  }
  EXPECT_FALSE(s.due(INT64_MAX - 1)) << "lamp is on until told";
}

TEST(SwitchesTest, ATimeLimitSwitchesOffAndARepeatProlongs) {
  Switches s;
  s.command(command(1, "buzzer", true, 500));
  s.take(0);
  EXPECT_EQ(s.next_off_us(), 500 * kMs);
  EXPECT_FALSE(s.take(499 * kMs));
  s.command(command(2, "buzzer", true, 500));
  s.take(499 * kMs);
  EXPECT_FALSE(s.take(998 * kMs));
  auto off = s.take(999 * kMs);
  ASSERT_TRUE(off);
  EXPECT_FALSE(off->on());
  EXPECT_EQ(off->output(), "buzzer");
  EXPECT_EQ(off->command_seq(), 0U) << "nobody waits for an answer";
  EXPECT_FALSE(s.take(INT64_MAX - 1)) << "once";
}

TEST(SwitchesTest, WithoutADaemonEverythingThatIsOnGoesOffOnce) {
  Switches s;
  s.command(command(1, "lamp", true));
  s.command(command(2, "buzzer", true, 60'000));
  s.take(0);
  s.take(0);
  s.command(command(3, "horn", true));
  s.lost_daemon();
  EXPECT_EQ(s.take(1)->output(), "buzzer");
  auto lamp = s.take(1);
  EXPECT_EQ(lamp->output(), "lamp");
  EXPECT_FALSE(lamp->on());
  EXPECT_FALSE(s.take(1)) << "what was never switched on needs no off";
}

TEST(SwitchesTest, TakesOnlySoMany) {
  Switches s;
  for (uint64_t i = 1; i <= Switches::kMaxWaiting; ++i) {
    EXPECT_TRUE(s.command(command(i, "lamp", true)));
  }
  EXPECT_FALSE(s.command(command(99, "lamp", true)));
}

}  // namespace
}  // namespace fairlead::sdk
