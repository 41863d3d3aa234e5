// From inbox to recorder: order, acks only after the recorder took everything, a full recorder
// loses nothing, one plugin's flood does not starve another.
#include "daemon/sensors/courier.h"

#include <gtest/gtest.h>

#include <atomic>
#include <thread>

namespace fairlead::sensors {
namespace {

constexpr int64_t kNoon = 1'772'445'600'000'000;
constexpr int64_t kS = 1'000'000;

class AckLink : public Link {
 public:
  void send(v1::FeedResponse frame) override {
    if (frame.has_ack()) acked = frame.ack().batch_seq();
  }
  void resume() override {}
  void close() override {}
  std::atomic<uint64_t> acked = 0;
};

v1::PluginChannel channel(const std::string& source, const std::string& signal) {
  v1::PluginChannel c;
  c.set_source(source);
  c.set_signal(signal);
  c.set_unit(signal == "fix" ? "fix" : "N");
  return c;
}

v1::PluginBatch batch(uint64_t seq, const std::vector<double>& values) {
  v1::PluginBatch b;
  b.set_batch_seq(seq);
  for (double value : values) {
    auto* r = b.add_readings();
    r->set_wall_us(kNoon);
    r->set_value(value);
  }
  return b;
}

struct Plugin {
  std::shared_ptr<Session> session =
      std::make_shared<Session>("", "truck", 1000, [](Event, const std::string&) {});
  std::shared_ptr<AckLink> link = std::make_shared<AckLink>();

  explicit Plugin(const std::string& source) {
    session->renew(source);
    v1::PluginHello hello;
    hello.set_wire_core(1);
    hello.add_plugin_api(1);
    hello.set_session_id(source);
    EXPECT_TRUE(session->hello(hello, link));
    v1::FeedRequest frame;
    *frame.mutable_described()->add_channels() = channel(source, "line.pull");
    session->frame(frame, link);
  }
  void send(v1::PluginBatch b) {
    v1::FeedRequest frame;
    *frame.mutable_batch() = std::move(b);
    session->frame(std::move(frame), link);
  }
};

template <typename F>
bool eventually(F&& condition) {
  for (int i = 0; i < 500; ++i) {
    if (condition()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  return false;
}

TEST(CourierTest, AFullRecorderHoldsTheAckBackAndLosesNothing) {
  std::atomic<bool> full = true;
  std::mutex mutex;
  std::vector<double> got;
  Courier courier([&](const v1::Observation& o) {
    std::lock_guard lock(mutex);
    if (full && got.size() == 1) return false;
    got.push_back(o.sample().value());
    return true;
  });
  Plugin plugin("line");
  courier.add(plugin.session, Lane("line", "truck", 10 * kS));
  courier.start();
  plugin.send(batch(1, {1, 2, 3}));
  courier.wake();
  EXPECT_TRUE(eventually([&] {
    std::lock_guard lock(mutex);
    return got.size() == 1;
  }));
  std::this_thread::sleep_for(std::chrono::milliseconds(100));
  EXPECT_EQ(plugin.link->acked, 0U) << "half a batch is not acked";
  full = false;
  EXPECT_TRUE(eventually([&] { return plugin.link->acked == 1; }));
  courier.stop(0);
  EXPECT_EQ(got, (std::vector<double>{1, 2, 3})) << "each once, in order";
}

TEST(CourierTest, AFloodDoesNotStarveTheOther) {
  std::vector<std::string> order;
  Courier courier([&](const v1::Observation& o) {
    order.push_back(o.source());
    return true;
  });
  Plugin flood("line");
  Plugin calm("deck");
  for (uint64_t i = 1; i <= 100; ++i) flood.send(batch(i, {1}));
  calm.send(batch(1, {2}));
  courier.add(flood.session, Lane("line", "truck", 10 * kS));
  courier.add(calm.session, Lane("deck", "truck", 10 * kS));
  courier.start();
  courier.stop(5 * kS);
  ASSERT_EQ(order.size(), 101U);
  auto calm_at = std::find(order.begin(), order.end(), "deck") - order.begin();
  EXPECT_LE(calm_at, 3);
  EXPECT_EQ(flood.link->acked, 100U);
}

TEST(CourierTest, GivesUpAtTheEndWithoutAnAckForWhatWasNotTaken) {
  Courier courier([](const v1::Observation&) { return false; });
  Plugin plugin("line");
  plugin.send(batch(1, {1}));
  courier.add(plugin.session, Lane("line", "truck", 10 * kS));
  courier.start();
  courier.stop(50'000);
  EXPECT_EQ(plugin.link->acked, 0U);
}

class LaneTest : public testing::Test {
 protected:
  Lane lane_{"gps", "truck", 10 * kS};
  Inbox::Item described_ =
      Inbox::Described{{channel("gps.truck", "fix"), channel("gps.tag", "fix")}};
};

TEST_F(LaneTest, AMarkBeforeAnyDescriptionGoesUnderThePluginsName) {
  auto out = lane_.observations(Inbox::Mark{true, "plugin cannot be started", kNoon});
  ASSERT_EQ(out.size(), 2U);
  EXPECT_EQ(out[0].source(), "gps");
  EXPECT_EQ(out[0].sensor().state(), "missing");
  EXPECT_EQ(out[1].gap().cause(), "plugin cannot be started");
}

TEST_F(LaneTest, AMarkIsSaidForEveryChannel) {
  lane_.observations(described_);
  auto out = lane_.observations(Inbox::Mark{true, "plugin ended", kNoon});
  ASSERT_EQ(out.size(), 4U);
  EXPECT_EQ(out[1].source(), "gps.truck");
  EXPECT_EQ(out[1].gap().channel(), "fix");
  EXPECT_EQ(out[3].source(), "gps.tag");
  auto live = lane_.observations(Inbox::Mark{false, "", kNoon});
  ASSERT_EQ(live.size(), 2U);
  EXPECT_EQ(live[0].sensor().state(), "live");
}

TEST_F(LaneTest, EachSourceIsAliveEveryTenSecondsWhileItIsRead) {
  lane_.observations(described_);
  EXPECT_EQ(lane_.observations(Inbox::Beat{kNoon}).size(), 2U);
  EXPECT_EQ(lane_.observations(Inbox::Beat{kNoon + 10 * kS - 1}).size(), 0U);
  EXPECT_EQ(lane_.observations(Inbox::Beat{kNoon + 10 * kS}).size(), 2U);
  // The tag's receiver falls silent: only the truck's source is alive.
  v1::PluginBatch gap = batch(1, {});
  auto* r = gap.add_readings();
  r->set_channel(1);
  r->set_wall_us(kNoon);
  r->mutable_gap()->set_cause("no fix");
  lane_.observations(Inbox::Batch{"s", gap});
  auto out = lane_.observations(Inbox::Beat{kNoon + 20 * kS});
  ASSERT_EQ(out.size(), 1U);
  EXPECT_EQ(out[0].source(), "gps.truck");
  EXPECT_TRUE(out[0].has_alive());
  // The plugin dials again: its receiver is still silent.
  lane_.observations(described_);
  EXPECT_EQ(lane_.observations(Inbox::Beat{kNoon + 30 * kS}).size(), 1U);
}

}  // namespace
}  // namespace fairlead::sensors
