// One plugin's conversation against the written order of frames (proto/fairlead/v1/
// plugin_service.proto), with a stream that only remembers what was sent.
#include "daemon/sensors/session.h"

#include <gtest/gtest.h>

namespace fairlead::sensors {
namespace {

class FakeLink : public Link {
 public:
  void send(v1::FeedResponse frame) override { sent.push_back(std::move(frame)); }
  void resume() override { ++resumed; }
  void close() override { closed = true; }
  std::vector<v1::FeedResponse> sent;
  int resumed = 0;
  bool closed = false;
};

class SessionTest : public testing::Test {
 protected:
  SessionTest()
      : session_("a = 1", "truck", 1000, [this](Event event, const std::string& detail) {
          events_.push_back(event);
          details_.push_back(detail);
        }) {
    session_.renew("s1");
  }

  static v1::PluginHello hello(const std::string& id) {
    v1::PluginHello h;
    h.set_wire_core(1);
    h.add_plugin_api(1);
    h.set_session_id(id);
    return h;
  }
  static v1::FeedRequest described() {
    v1::FeedRequest f;
    auto* c = f.mutable_described()->add_channels();
    c->set_source("line");
    c->set_signal("line.pull");
    c->set_unit("N");
    return f;
  }
  static v1::FeedRequest batch(uint64_t seq, int readings = 1) {
    v1::FeedRequest f;
    f.mutable_batch()->set_batch_seq(seq);
    for (int i = 0; i < readings; ++i) {
      auto* r = f.mutable_batch()->add_readings();
      r->set_wall_us(1'772'445'600'000'000);
      r->set_value(i);
    }
    return f;
  }
  static v1::FeedRequest heartbeat() {
    v1::FeedRequest f;
    f.mutable_heartbeat()->set_turns(1);
    return f;
  }
  std::shared_ptr<FakeLink> connected() {
    auto link = std::make_shared<FakeLink>();
    EXPECT_TRUE(session_.hello(hello("s1"), link));
    return link;
  }
  int batches_in_inbox() {
    int n = 0;
    while (auto item = session_.inbox().pop()) n += std::holds_alternative<Inbox::Batch>(*item);
    return n;
  }

  Session session_;
  std::vector<Event> events_;
  std::vector<std::string> details_;
};

TEST_F(SessionTest, WelcomesWithConfigurationClockAndPace) {
  auto link = connected();
  ASSERT_EQ(link->sent.size(), 1U);
  const auto& welcome = link->sent[0].welcome();
  EXPECT_EQ(welcome.wire_core(), 1U);
  EXPECT_EQ(welcome.plugin_api(), 1U);
  EXPECT_EQ(welcome.session_id(), "s1");
  EXPECT_EQ(welcome.config_toml(), "a = 1");
  EXPECT_EQ(welcome.clock(), "truck");
  EXPECT_EQ(welcome.heartbeat_ms(), 1000U);
}

TEST_F(SessionTest, RefusesOtherVersionsAndOtherSessions) {
  auto link = std::make_shared<FakeLink>();
  auto wrong_core = hello("s1");
  wrong_core.set_wire_core(2);
  EXPECT_EQ(session_.hello(wrong_core, link).error().code, Code::kBadInput);
  auto only_next = hello("s1");
  only_next.set_plugin_api(0, 2);
  EXPECT_EQ(session_.hello(only_next, link).error().code, Code::kBadInput);
  auto both = hello("s1");
  both.add_plugin_api(2);
  EXPECT_TRUE(session_.hello(both, link));
  EXPECT_EQ(session_.hello(hello("s0"), link).error().code, Code::kDenied);
}

TEST_F(SessionTest, LateFramesOfAReplacedProcessAreRefused) {
  auto old = connected();
  session_.frame(described(), old);
  session_.renew("s2");
  EXPECT_TRUE(old->closed);
  EXPECT_EQ(session_.frame(batch(1), old), Reading::kEnd);
  EXPECT_EQ(batches_in_inbox(), 0);
  EXPECT_EQ(session_.hello(hello("s1"), old).error().code, Code::kDenied);
  session_.taken("s1", 1);  // An ack for the old one goes nowhere.
  EXPECT_EQ(old->sent.size(), 1U);
}

TEST_F(SessionTest, AcksOnlyWhatWasTakenAndDropsWhatIsSentAgain) {
  auto link = connected();
  session_.frame(described(), link);
  EXPECT_EQ(session_.frame(batch(1), link), Reading::kGoOn);
  EXPECT_EQ(session_.frame(batch(2), link), Reading::kGoOn);
  EXPECT_EQ(link->sent.size(), 1U) << "nothing acked yet";
  session_.taken("s1", 1);
  ASSERT_EQ(link->sent.size(), 2U);
  EXPECT_EQ(link->sent[1].ack().batch_seq(), 1U);

  session_.broken(link);
  EXPECT_EQ(events_.back(), Event::kStreamBroken);
  auto again = connected();
  EXPECT_EQ(again->sent[0].welcome().acked_batch(), 1U);
  session_.frame(described(), again);
  session_.frame(batch(2), again);  // Not acked, so sent once more: already here.
  session_.frame(batch(3), again);
  EXPECT_EQ(batches_in_inbox(), 3);
}

TEST_F(SessionTest, BreachesEndTheStreamAndAreTold) {
  struct Case {
    std::vector<v1::FeedRequest> frames;
    std::string words;
  };
  v1::FeedRequest second_hello;
  *second_hello.mutable_hello() = hello("s1");
  v1::FeedRequest other = described();
  other.mutable_described()->mutable_channels(0)->set_signal("line.out");
  other.mutable_described()->mutable_channels(0)->set_unit("m");
  v1::FeedRequest wrong = described();
  wrong.mutable_described()->mutable_channels(0)->set_unit("lbf");
  const std::vector<Case> cases = {
      {{batch(1)}, "before the channels"},
      {{heartbeat()}, "before the channels"},
      {{second_hello}, "second hello"},
      {{described(), other}, "anew"},
      {{wrong}, "recorded in N"},
      {{described(), batch(2)}, "one is missing"},
      {{described(), batch(1), batch(3)}, "one is missing"},
  };
  for (const Case& c : cases) {
    session_.renew("s1");
    auto link = connected();
    Reading last = Reading::kGoOn;
    for (const auto& frame : c.frames) last = session_.frame(frame, link);
    SCOPED_TRACE(c.words);
    EXPECT_EQ(last, Reading::kEnd);
    EXPECT_EQ(events_.back(), Event::kBreach);
    EXPECT_NE(details_.back().find(c.words), std::string::npos) << details_.back();
    EXPECT_NE(link->sent.back().refused().reason().find(c.words), std::string::npos);
  }
}

TEST_F(SessionTest, ARefusedConfigurationNamesTheField) {
  auto link = connected();
  v1::FeedRequest frame;
  auto* p = frame.mutable_config_refused()->add_problems();
  p->set_field("register[2].type");
  p->set_problem("is missing");
  p->set_remedy("give int16");
  EXPECT_EQ(session_.frame(frame, link), Reading::kEnd);
  EXPECT_EQ(events_.back(), Event::kBreach);
  EXPECT_EQ(details_.back(),
            "plugin refuses its configuration: register[2].type: is missing; give int16");
}

TEST_F(SessionTest, AFullInboxPausesTheStreamAndResumesItWhenHalfIsGone) {
  auto link = connected();
  session_.frame(described(), link);
  Reading last = Reading::kGoOn;
  uint64_t sent = 0;
  while (last == Reading::kGoOn && sent < 1000) last = session_.frame(batch(++sent, 64), link);
  EXPECT_EQ(last, Reading::kPause);
  EXPECT_LE(sent * 64, Inbox::kMaxReadings + 64) << "bounded";
  int popped = 0;
  while (link->resumed == 0 && session_.inbox().pop()) ++popped;
  EXPECT_EQ(link->resumed, 1);
  EXPECT_GT(popped, 50);
  while (session_.inbox().pop()) continue;
  EXPECT_EQ(link->resumed, 1) << "once a pause";
}

TEST_F(SessionTest, AFloodOfHeartbeatsIsHeldBackToo) {
  auto link = connected();
  session_.frame(described(), link);
  size_t sent = 0;
  while (sent < 100'000 && session_.frame(heartbeat(), link) == Reading::kGoOn) ++sent;
  EXPECT_LE(sent, Inbox::kMaxReadings);
}

TEST(SessionIdTest, Is128RandomBits) {
  std::string a = new_session_id();
  EXPECT_EQ(a.size(), 32U);
  EXPECT_EQ(a.find_first_not_of("0123456789abcdef"), std::string::npos);
  EXPECT_NE(a, new_session_id());
}

class OutputsTest : public SessionTest {
 protected:
  // On a stream of a plugin that has a buzzer, with or without the capability.
  std::shared_ptr<FakeLink> with_buzzer(bool capable = true) {
    auto link = std::make_shared<FakeLink>();
    auto h = hello("s1");
    if (capable) h.add_capabilities("outputs");
    EXPECT_TRUE(session_.hello(h, link));
    auto frame = described();
    frame.mutable_described()->add_outputs()->set_output("buzzer");
    session_.frame(frame, link);
    return link;
  }
  static v1::FeedRequest done(uint64_t seq, const std::string& trouble = {}) {
    v1::FeedRequest f;
    f.mutable_command_done()->set_command_seq(seq);
    f.mutable_command_done()->set_trouble(trouble);
    return f;
  }
};

TEST_F(OutputsTest, OnlyWhatWasDescribedIsCommanded) {
  EXPECT_FALSE(session_.command("buzzer", true, 0)) << "no stream yet";
  auto link = with_buzzer();
  EXPECT_FALSE(session_.command("lamp", true, 0));
  ASSERT_TRUE(session_.command("buzzer", true, 3000));
  ASSERT_TRUE(session_.command("buzzer", false, 3000));
  ASSERT_EQ(link->sent.size(), 3U);
  EXPECT_EQ(link->sent[0].welcome().capabilities(0), "outputs");
  EXPECT_EQ(link->sent[1].command().command_seq(), 1U);
  EXPECT_EQ(link->sent[1].command().for_ms(), 3000U);
  EXPECT_TRUE(link->sent[1].command().on());
  EXPECT_EQ(link->sent[2].command().command_seq(), 2U);
  EXPECT_EQ(link->sent[2].command().for_ms(), 0U);
}

TEST_F(OutputsTest, APluginWithoutTheCapabilityIsNeverCommanded) {
  with_buzzer(false);
  EXPECT_FALSE(session_.command("buzzer", true, 0));
}

TEST_F(OutputsTest, AnswersGoIntoTheInboxAndAnInventedOneIsABreach) {
  auto link = with_buzzer();
  session_.command("buzzer", true, 0);
  EXPECT_EQ(session_.frame(done(1, "the coil does not answer"), link), Reading::kGoOn);
  std::optional<Inbox::Switched> answer;
  while (auto item = session_.inbox().pop()) {
    if (auto* switched = std::get_if<Inbox::Switched>(&*item)) answer = *switched;
  }
  ASSERT_TRUE(answer);
  EXPECT_EQ(answer->output, "buzzer");
  EXPECT_TRUE(answer->on);
  EXPECT_EQ(answer->trouble, "the coil does not answer");
  EXPECT_EQ(session_.frame(done(1), link), Reading::kEnd) << "answered twice";
  EXPECT_EQ(events_.back(), Event::kBreach);
}

TEST_F(OutputsTest, OneThatNeverAnswersIsNotCommandedForEver) {
  auto link = with_buzzer();
  size_t told = 0;
  while (told < 1000 && session_.command("buzzer", true, 0)) ++told;
  EXPECT_EQ(told, Session::kMaxUnanswered);
  EXPECT_EQ(session_.frame(done(1), link), Reading::kGoOn);
  EXPECT_TRUE(session_.command("buzzer", true, 0));
}

TEST_F(SessionTest, OutputsNeedNames) {
  for (const char* name : {"", "Big Horn", "a/b"}) {
    auto link = connected();
    auto frame = described();
    frame.mutable_described()->add_outputs()->set_output(name);
    EXPECT_EQ(session_.frame(frame, link), Reading::kEnd) << name;
    session_.renew("s1");
  }
  auto link = connected();
  v1::FeedRequest only_outputs;
  only_outputs.mutable_described()->add_outputs()->set_output("lamp");
  EXPECT_EQ(session_.frame(only_outputs, link), Reading::kGoOn) << "a plugin without a channel";
}

}  // namespace
}  // namespace fairlead::sensors
