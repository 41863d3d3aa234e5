#include "plugins/sdk/plugin.h"

#include <fmt/format.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/un.h>
#include <unistd.h>

#include <charconv>
#include <chrono>
#include <condition_variable>
#include <cstdio>
#include <cstring>
#include <fstream>
#include <iterator>
#include <mutex>
#include <optional>
#include <string_view>
#include <thread>

#include "plugins/sdk/client.h"

namespace fairlead::sdk {

namespace {
constexpr uint32_t kWireCore = 1;
constexpr uint32_t kPluginApi = 1;
constexpr int kExitUsage = 64;
constexpr std::chrono::milliseconds kDrainWithin{1500};

struct Options {
  Address address;
  std::string session;
  int parent = 0;
  std::string check_config;
};

std::optional<int> to_int(std::string_view text) {
  int value = 0;
  auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size() || value < 0) return std::nullopt;
  return value;
}

std::optional<std::string> read_options(int argc, char** argv, Options& options) {
  for (int i = 1; i < argc; ++i) {
    std::string_view name = argv[i];
    if (i + 1 >= argc) return fmt::format("{}: its value is missing", name);
    std::string_view value = argv[++i];
    if (name == "--socket") {
      options.address.socket_path = value;
    } else if (name == "--session") {
      options.session = value;
    } else if (name == "--check-config") {
      options.check_config = value;
    } else if (name == "--fd" || name == "--parent") {
      std::optional<int> number = to_int(value);
      if (!number) return fmt::format("{}: \"{}\" is not a number", name, value);
      (name == "--fd" ? options.address.fd : options.parent) = *number;
    } else {
      return fmt::format("{}: unknown option", name);
    }
  }
  if (!options.check_config.empty()) return std::nullopt;
  if (options.address.socket_path.empty() == (options.address.fd < 0)) {
    return "give --socket PATH or --fd N (the daemon does; people use --check-config FILE)";
  }
  if (options.address.socket_path.size() >= sizeof(sockaddr_un{}.sun_path)) {
    return "--socket: the path is too long (at most 107 characters)";
  }
  if (options.session.empty()) return "--session: is missing";
  return std::nullopt;
}

int check_config(const std::string& path, Plugin& plugin) {
  std::ifstream file(path, std::ios::binary);
  if (!file) {
    fmt::print(stderr, "{}: cannot be read; check the path\n", path);
    return kExitUsage;
  }
  std::string text{std::istreambuf_iterator<char>(file), {}};
  std::vector<v1::PluginChannel> channels;
  Problems problems = plugin.configure(text, channels);
  for (const auto& p : problems) {
    fmt::print(stderr, "{}: {}: {}; {}\n", path, p.field(), p.problem(), p.remedy());
  }
  if (!problems.empty()) return 78;
  for (const auto& c : channels) fmt::print("{} {} [{}]\n", c.source(), c.signal(), c.unit());
  for (const auto& o : plugin.outputs()) fmt::print("output {}\n", o.output());
  return 0;
}

int exit_code(Ending ending) {
  switch (ending) {
    case Ending::kStopped:
      return 0;
    case Ending::kConfigRefused:
      return 78;
    case Ending::kRefused:
      return 77;
    case Ending::kStreamGone:
      return 69;
  }
  return 70;
}

// Signals wait here instead of interrupting: SIGTERM and SIGINT ask the loop to end.
void watch_signals(Feed& feed) {
  sigset_t set;
  sigemptyset(&set);
  sigaddset(&set, SIGTERM);
  sigaddset(&set, SIGINT);
  pthread_sigmask(SIG_BLOCK, &set, nullptr);
  std::thread([set, &feed] {
    int signal = 0;
    sigwait(&set, &signal);
    feed.request_stop();
  }).detach();
}

// What the two threads of a plugin tell each other.
struct Meeting {
  std::mutex mutex;
  std::condition_variable changed;
  bool ready = false;
  std::optional<Ending> ended;
};

Ending serve(const Options& options, const PluginInfo& info, Plugin& plugin, Feed& feed) {
  v1::PluginHello hello;
  hello.set_wire_core(kWireCore);
  hello.add_plugin_api(kPluginApi);
  hello.set_session_id(options.session);
  hello.set_plugin(info.name);
  hello.set_version(info.version);
  hello.add_capabilities("outputs");

  Meeting meeting;
  Client client(
      options.address, hello, feed,
      [&plugin](const std::string& toml, v1::PluginDescribed& described) {
        std::vector<v1::PluginChannel> channels;
        Problems problems = plugin.configure(toml, channels);
        if (!problems.empty()) return problems;
        described.mutable_channels()->Assign(channels.begin(), channels.end());
        std::vector<v1::PluginOutput> outputs = plugin.outputs();
        described.mutable_outputs()->Assign(outputs.begin(), outputs.end());
        return problems;
      },
      [&meeting] {
        std::lock_guard lock(meeting.mutex);
        meeting.ready = true;
        meeting.changed.notify_all();
      });
  std::thread sender([&] {
    Ending ending = client.run();
    feed.request_stop();
    std::unique_lock lock(meeting.mutex);
    meeting.ended = ending;
    meeting.changed.notify_all();
    // An acquisition loop that hangs in its device must not keep the process alive.
    bool released = meeting.changed.wait_for(lock, std::chrono::seconds(1),
                                             [&] { return !meeting.ended.has_value(); });
    if (!released) _exit(exit_code(ending));
  });
  std::unique_lock lock(meeting.mutex);
  meeting.changed.wait(lock, [&] { return meeting.ready || meeting.ended; });
  if (meeting.ready && !meeting.ended) {
    lock.unlock();
    plugin.run(feed);
    client.stop_after_drain(kDrainWithin);
    lock.lock();
    meeting.changed.wait(lock, [&] { return meeting.ended.has_value(); });
  }
  Ending ending = *meeting.ended;
  meeting.ended.reset();  // Released.
  meeting.changed.notify_all();
  lock.unlock();
  sender.join();
  return ending;
}
}  // namespace

int run_plugin(int argc, char** argv, const PluginInfo& info, Plugin& plugin) {
  Options options;
  if (auto wrong = read_options(argc, argv, options)) {
    fmt::print(stderr, "{}: {}\n", info.name, *wrong);
    return kExitUsage;
  }
  if (!options.check_config.empty()) return check_config(options.check_config, plugin);
  if (options.parent > 0) {
    prctl(PR_SET_PDEATHSIG, SIGTERM);
    // The parent may have gone before the line above.
    if (getppid() != options.parent) return 69;
  }
  signal(SIGPIPE, SIG_IGN);
  static Feed feed;  // Outlives the detached signal thread.
  watch_signals(feed);
  return exit_code(serve(options, info, plugin, feed));
}

}  // namespace fairlead::sdk
