// The SDK's client over real gRPC: a broken stream and a reconnect lose and double nothing, an
// inherited descriptor works like a path, and a daemon that does not come back ends the plugin.
#include <grpcpp/grpcpp.h>
#include <grpcpp/server_posix.h>
#include <gtest/gtest.h>
#include <sys/socket.h>

#include <thread>

#include "daemon/sensors/courier.h"
#include "daemon/sensors/plugins_rpc.h"
#include "fairlead/v1/plugin_service.grpc.pb.h"
#include "plugins/sdk/client.h"
#include "plugins/sdk/config.h"
#include "tests/sensors/harness.h"

namespace fairlead::test {
namespace {

using namespace std::chrono_literals;

v1::PluginHello hello() {
  v1::PluginHello h;
  h.set_wire_core(1);
  h.add_plugin_api(1);
  h.set_session_id("s1");
  h.set_plugin("test");
  h.add_capabilities("outputs");
  return h;
}

v1::PluginChannel pull_channel() {
  v1::PluginChannel c;
  c.set_source("line");
  c.set_signal("line.pull");
  c.set_unit("N");
  return c;
}

// A plugin in this process: the SDK's client on its own thread.
struct InProcessPlugin {
  sdk::Feed feed;
  std::atomic<bool> ready = false;
  std::atomic<bool> ended = false;
  std::string config;
  sdk::Ending ending = sdk::Ending::kStopped;
  sdk::Client client;
  std::thread thread;

  explicit InProcessPlugin(sdk::Address address)
      : client(
            std::move(address), hello(), feed,
            [this](const std::string& toml, v1::PluginDescribed& described) {
              config = toml;
              *described.add_channels() = pull_channel();
              described.add_outputs()->set_output("buzzer");
              return sdk::Problems();
            },
            [this] { ready = true; }),
        thread([this] {
          ending = client.run();
          ended = true;
        }) {}
  ~InProcessPlugin() {
    feed.request_stop();
    client.stop_after_drain(0ms);
    thread.join();
  }
};

TEST(SdkTest, ABrokenStreamLosesAndDoublesNothing) {
  TempDir dir;
  auto session = std::make_shared<sensors::Session>("a = 1", "truck", 1000,
                                                    [](sensors::Event, const std::string&) {});
  session->renew("s1");
  auto find = [&](const std::string& id) { return id == "s1" ? session : nullptr; };
  auto listen = [&] { return sensors::PluginServer::start(dir.path() / "s", find); };
  Collector seen;
  sensors::Courier courier(seen.sink());
  courier.add(session, sensors::Lane("line", "truck", 10'000'000));
  courier.start();

  auto server = listen();
  ASSERT_TRUE(server);
  InProcessPlugin plugin({.socket_path = (dir.path() / "s").string()});
  ASSERT_TRUE(eventually([&] { return plugin.ready.load(); }));
  EXPECT_EQ(plugin.config, "a = 1");
  double next = 0;
  auto read_for = [&](std::chrono::milliseconds duration) {
    auto until = std::chrono::steady_clock::now() + duration;
    while (std::chrono::steady_clock::now() < until) {
      plugin.feed.sample(0, next++);
      courier.wake();
      std::this_thread::sleep_for(1ms);
    }
  };
  for (int round = 0; round < 4; ++round) {
    read_for(300ms);
    // Half the time with a recorder that takes nothing, so that batches are in flight unacked.
    seen.set_full(round % 2 == 0);
    read_for(100ms);
    (*server)->stop();
    seen.set_full(false);
    read_for(300ms);
    server = listen();
    ASSERT_TRUE(server);
  }
  read_for(300ms);
  EXPECT_TRUE(eventually([&] {
    courier.wake();
    return seen.values("line", "line.pull").size() >= static_cast<size_t>(next);
  }));
  auto values = seen.values("line", "line.pull");
  ASSERT_EQ(values.size(), static_cast<size_t>(next));
  for (size_t i = 0; i < values.size(); ++i) ASSERT_EQ(values[i], static_cast<double>(i));
  EXPECT_FALSE(plugin.ended);
  (*server)->stop();
  courier.stop(0);
}

// The daemon's session and courier on a socket, for one plugin.
struct DaemonSide {
  TempDir dir;
  std::shared_ptr<sensors::Session> session = std::make_shared<sensors::Session>(
      "", "truck", 1000, [](sensors::Event, const std::string&) {});
  Collector seen;
  sensors::Courier courier{seen.sink()};
  std::unique_ptr<sensors::PluginServer> server;

  DaemonSide() {
    session->renew("s1");
    courier.add(session, sensors::Lane("line", "truck", 10'000'000));
    courier.start();
    auto started = sensors::PluginServer::start(
        dir.path() / "s", [this](const std::string& id) { return id == "s1" ? session : nullptr; });
    EXPECT_TRUE(started);
    if (started) server = std::move(*started);
  }
  ~DaemonSide() {
    if (server) server->stop();
    courier.stop(0);
  }
  [[nodiscard]] std::string path() const { return (dir.path() / "s").string(); }
};

TEST(SdkTest, ACommandReachesTheLoopItsAnswerTheRecordAndALostDaemonSwitchesOff) {
  DaemonSide daemon;
  InProcessPlugin plugin({.socket_path = daemon.path()});
  std::vector<v1::PluginCommand> carried_out;
  auto turn = [&] {
    daemon.courier.wake();
    while (auto command = plugin.feed.take_command()) {
      carried_out.push_back(*command);
      plugin.feed.done(*command, command->for_ms() == 7 ? "the coil does not answer" : "");
    }
  };
  auto switched = [&](const char* words) {
    return eventually([&] {
      turn();
      auto said = daemon.seen.of("line");
      return !said.empty() && said.back().has_sensor() &&
             said.back().sensor().channel() == "buzzer" && said.back().sensor().state() == words;
    });
  };
  ASSERT_TRUE(eventually([&] { return daemon.session->command("buzzer", true, 0); }));
  EXPECT_TRUE(switched("on"));
  EXPECT_TRUE(daemon.session->command("buzzer", true, 7));
  EXPECT_TRUE(switched("not switched on: the coil does not answer"));
  EXPECT_TRUE(eventually([&] {
    turn();
    return carried_out.size() == 3;
  })) << "off by itself";
  EXPECT_FALSE(carried_out.back().on());
  EXPECT_TRUE(daemon.session->command("buzzer", true, 0));
  EXPECT_TRUE(switched("on"));
  daemon.server->stop();
  EXPECT_TRUE(eventually([&] {
    turn();
    return carried_out.size() == 5;
  })) << "nobody is there to say off";
  EXPECT_FALSE(carried_out.back().on());
  EXPECT_EQ(carried_out.back().command_seq(), 0U);
}

TEST(SdkTest, WithoutADaemonItEndsWithinFiveSeconds) {
  TempDir dir;
  Lateness late;
  auto start = std::chrono::steady_clock::now();
  InProcessPlugin plugin({.socket_path = (dir.path() / "nobody").string()});
  ASSERT_TRUE(eventually([&] { return plugin.ended.load(); }, 10s));
  EXPECT_EQ(plugin.ending, sdk::Ending::kStreamGone);
  EXPECT_LT(std::chrono::steady_clock::now() - start, late.stretched(5s));
  EXPECT_FALSE(plugin.ready);
}

TEST(SdkTest, AGapIsSaidOnceACauseUntilTheNextReading) {
  DaemonSide daemon;
  InProcessPlugin plugin({.socket_path = daemon.path()});
  ASSERT_TRUE(eventually([&] { return plugin.ready.load(); }));
  for (int i = 0; i < 100; ++i) EXPECT_EQ(plugin.feed.gap(0, "unplugged"), i == 0);
  EXPECT_TRUE(plugin.feed.gap(0, "no port"));
  plugin.feed.sample(0, 1);
  EXPECT_TRUE(plugin.feed.gap(0, "no port"));
  // What counts a loss is always said.
  for (int i = 0; i < 3; ++i) EXPECT_TRUE(plugin.feed.gap(0, "no port", 1));
  plugin.feed.sample(0, 2);
  std::vector<std::string> said;
  EXPECT_TRUE(eventually([&] {
    daemon.courier.wake();
    said.clear();
    for (const v1::Observation& o : daemon.seen.of("line")) {
      if (o.has_gap()) said.push_back(o.gap().cause());
      if (o.has_sample()) said.push_back(std::to_string(static_cast<int>(o.sample().value())));
    }
    return !said.empty() && said.back() == "2";
  }));
  EXPECT_EQ(said, (std::vector<std::string>{"unplugged", "no port", "1", "no port", "no port",
                                            "no port", "no port", "2"}));
}

// A daemon written anew from the contract alone: hello, welcome, described, then an ack a batch.
class PlainDaemon : public v1::PluginService::Service {
 public:
  grpc::Status Feed(grpc::ServerContext* /*context*/,
                    grpc::ServerReaderWriter<v1::FeedResponse, v1::FeedRequest>* stream) override {
    v1::FeedRequest in;
    if (!stream->Read(&in) || !in.has_hello()) return grpc::Status::CANCELLED;
    v1::FeedResponse out;
    out.mutable_welcome()->set_wire_core(1);
    out.mutable_welcome()->set_plugin_api(1);
    out.mutable_welcome()->set_session_id(in.hello().session_id());
    out.mutable_welcome()->set_heartbeat_ms(100);
    stream->Write(out);
    while (stream->Read(&in)) {
      if (in.has_described()) described = true;
      if (in.has_heartbeat()) beats = in.heartbeat().turns();
      if (!in.has_batch()) continue;
      readings += in.batch().readings_size();
      out.mutable_ack()->set_batch_seq(in.batch().batch_seq());
      stream->Write(out);
    }
    return grpc::Status::OK;
  }
  std::atomic<bool> described = false;
  std::atomic<uint64_t> beats = 0;
  std::atomic<int> readings = 0;
};

TEST(SdkTest, AnInheritedDescriptorWorksAndItsEndEndsThePlugin) {
  int pair[2] = {-1, -1};
  ASSERT_EQ(socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0, pair), 0);
  PlainDaemon daemon;
  grpc::ServerBuilder builder;
  builder.RegisterService(&daemon);
  auto server = builder.BuildAndStart();
  ASSERT_NE(server, nullptr);
  grpc::AddInsecureChannelFromFd(server.get(), pair[0]);
  InProcessPlugin plugin({.socket_path = "", .fd = pair[1]});
  ASSERT_TRUE(eventually([&] { return plugin.ready.load(); }));
  for (int i = 0; i < 100; ++i) plugin.feed.sample(0, i);
  EXPECT_TRUE(eventually([&] { return daemon.readings == 100; }));
  EXPECT_TRUE(daemon.described);
  // No turn of the loop, no heartbeat: nothing else may send one.
  std::this_thread::sleep_for(300ms);
  EXPECT_EQ(daemon.beats, 0U);
  plugin.feed.beat();
  EXPECT_TRUE(eventually([&] { return daemon.beats == 1; }));
  server->Shutdown(std::chrono::system_clock::now());
  EXPECT_TRUE(eventually([&] { return plugin.ended.load(); }, 2s));
  EXPECT_EQ(plugin.ending, sdk::Ending::kStreamGone);
}

}  // namespace
}  // namespace fairlead::test
