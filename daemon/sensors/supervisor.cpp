#include "daemon/sensors/supervisor.h"

#include <fmt/format.h>
#include <poll.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <set>
#include <thread>
#include <utility>

#include "daemon/sensors/courier.h"
#include "daemon/sensors/keeper.h"
#include "daemon/sensors/plugins_rpc.h"
#include "daemon/sensors/runtime_dir.h"

namespace fairlead::sensors {

namespace {
constexpr int kTickMs = 50;
constexpr int64_t kDeliverLastUs = 1'000'000;
// The red light is commanded so often, for so long: it goes out by itself without us.
constexpr int64_t kRedEveryUs = 1'000'000;
constexpr uint32_t kRedForMs = 3'000;

class Running : public Supervisor {
 public:
  Running(SupervisorOptions options, RuntimeDir dir, Sink sink)
      : options_(std::move(options)),
        dir_(std::move(dir)),
        courier_(std::move(sink)),
        wake_fd_(eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)) {}

  ~Running() override {
    Running::stop();
    close(wake_fd_);
  }

  Status begin(std::vector<PluginSpec> specs) {
    for (PluginSpec& spec : specs) {
      std::string id = spec.id;
      keepers_.push_back(std::make_unique<Keeper>(
          std::move(spec), options_, dir_.socket(), [this] { wake(); },
          [this](int fd) { server_->adopt(fd); }));
      Lane lane(id, options_.clock, options_.alive_every_us);
      lane.check_clocks();
      courier_.add(keepers_.back()->session(), std::move(lane));
    }
    auto server =
        PluginServer::start(dir_.socket(), [this](const std::string& id) { return find(id); });
    if (!server) return std::unexpected(server.error());
    server_ = std::move(*server);
    courier_.start();
    // This thread lives as long as the children: their death signal hangs on it.
    thread_ = std::thread([this] { run(); });
    return {};
  }

  void stop() override {
    if (!thread_.joinable()) return;
    stopping_.store(true);
    wake();
    thread_.join();
    server_->stop();
    courier_.wake();
    courier_.stop(kDeliverLastUs);
  }

  int command(std::string_view output, bool on, uint32_t for_ms) override {
    int told = 0;
    for (auto& keeper : keepers_) told += keeper->session()->command(output, on, for_ms) ? 1 : 0;
    return told;
  }

  std::vector<Health> health() const override {
    std::vector<Health> all;
    for (const auto& keeper : keepers_) all.push_back(keeper->health());
    return all;
  }

 private:
  std::shared_ptr<Session> find(const std::string& id) const {
    if (id.empty()) return nullptr;
    for (const auto& keeper : keepers_) {
      if (keeper->session()->id() == id) return keeper->session();
    }
    return nullptr;
  }

  void wake() {
    uint64_t one = 1;
    // A full counter is as good as a wake-up.
    (void)!write(wake_fd_, &one, sizeof one);
    courier_.wake();
  }

  void run() {
    for (auto& keeper : keepers_) keeper->start();
    courier_.wake();
    bool told_stop = false;
    while (true) {
      if (stopping_.load() && !std::exchange(told_stop, true)) {
        for (auto& keeper : keepers_) keeper->stop();
      }
      bool idle = std::all_of(keepers_.begin(), keepers_.end(), [](auto& k) { return k->idle(); });
      if (told_stop && idle) return;
      wait();
      for (auto& keeper : keepers_) {
        keeper->read_output();
        keeper->handle();
      }
      keep_red_light();
      courier_.wake();
    }
  }

  void keep_red_light() {
    int64_t now_us = mono_now_us();
    if (now_us < red_due_us_) return;
    red_due_us_ = now_us + kRedEveryUs;
    bool red = std::any_of(keepers_.begin(), keepers_.end(), [](const auto& keeper) {
      Health health = keeper->health();
      return health.required && health.missing();
    });
    bool was_red = std::exchange(red_, red);
    if (red || was_red) command(kRedLight, red, kRedForMs);
  }

  void wait() {
    std::vector<pollfd> fds{{wake_fd_, POLLIN, 0}};
    for (const auto& keeper : keepers_) {
      const Process& process = keeper->process();
      if (process.pid_fd() >= 0) fds.push_back({process.pid_fd(), POLLIN, 0});
      if (process.output_fd() >= 0) fds.push_back({process.output_fd(), POLLIN, 0});
    }
    poll(fds.data(), fds.size(), kTickMs);
    uint64_t count = 0;
    (void)!read(wake_fd_, &count, sizeof count);
  }

  const SupervisorOptions options_;
  RuntimeDir dir_;
  Courier courier_;
  int wake_fd_;
  std::vector<std::unique_ptr<Keeper>> keepers_;
  std::unique_ptr<PluginServer> server_;
  std::thread thread_;
  std::atomic<bool> stopping_ = false;
  int64_t red_due_us_ = 0;
  bool red_ = false;
};
}  // namespace

Result<std::unique_ptr<Supervisor>> Supervisor::start(SupervisorOptions options,
                                                      std::vector<PluginSpec> specs, Sink sink) {
  std::set<std::string> ids;
  for (const PluginSpec& spec : specs) {
    if (spec.id.empty() || !ids.insert(spec.id).second) {
      return fail(
          Code::kBadInput,
          fmt::format("plugin.id: \"{}\" is empty or there twice; give each its own", spec.id));
    }
  }
  auto dir = RuntimeDir::open(options.runtime_dir);
  if (!dir) return std::unexpected(dir.error());
  auto running = std::make_unique<Running>(std::move(options), std::move(*dir), std::move(sink));
  if (auto ok = running->begin(std::move(specs)); !ok) return std::unexpected(ok.error());
  return running;
}

}  // namespace fairlead::sensors
