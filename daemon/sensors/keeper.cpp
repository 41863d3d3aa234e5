#include "daemon/sensors/keeper.h"

#include <fmt/format.h>
#include <signal.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

#include "daemon/sensors/courier.h"

namespace fairlead::sensors {

Keeper::Keeper(PluginSpec spec, const SupervisorOptions& options, std::filesystem::path socket,
               std::function<void()> wake, Adopt adopt)
    : spec_(std::move(spec)),
      options_(options),
      socket_(std::move(socket)),
      wake_(std::move(wake)),
      adopt_(std::move(adopt)),
      life_(options.limits),
      usage_(options.limits) {
  auto heartbeat_ms = static_cast<uint32_t>(options.limits.stale_after_us / 3000);
  session_ = std::make_shared<Session>(
      spec_.settings_toml, options.clock, heartbeat_ms,
      [this](Event event, std::string detail) { tell(event, std::move(detail)); });
  health_.id = spec_.id;
  health_.required = spec_.required;
}

void Keeper::tell(Event event, std::string detail) {
  {
    std::lock_guard lock(mutex_);
    // Beats of one turn count once: a flood of them must not fill the memory.
    bool again = event == Event::kBeat && !told_.empty() && told_.back().first == event;
    if (!again) told_.emplace_back(event, std::move(detail));
  }
  wake_();
}

void Keeper::start() { happen(Event::kStart); }

void Keeper::stop() { happen(Event::kStop); }

void Keeper::handle() {
  std::vector<std::pair<Event, std::string>> told;
  {
    std::lock_guard lock(mutex_);
    told.swap(told_);
  }
  for (const auto& [event, detail] : told) happen(event, detail);
  check_process();
  check_usage();
  happen(Event::kTick);
}

void Keeper::check_process() {
  std::string how;
  if (!process_.reap(how)) return;
  read_output();
  for (const std::string& line : output_.rest(mono_now_us())) log(line);
  process_.close_output();
  happen(Event::kExited, how);
}

void Keeper::check_usage() {
  bool runs = life_.state() == State::kLive || life_.state() == State::kStale;
  if (!runs || !process_.running() || !usage_.due(mono_now_us())) return;
  std::optional<Usage> usage = usage_of(process_.pid());
  if (!usage) return;
  Session::Sent sent = session_->sent();
  auto excess = usage_.judge(*usage, sent.readings, sent.newest_us, mono_now_us());
  if (excess) happen(Event::kBreach, "plugin ended by the daemon: " + *excess);
}

void Keeper::happen(Event event, std::string_view detail) {
  Orders orders = life_.on(event, mono_now_us(), detail);
  obey(orders);
  std::lock_guard lock(mutex_);
  health_.state = life_.state();
  health_.pid = process_.pid();
  health_.starts = life_.starts();
  if (!orders.gap.empty()) health_.trouble = orders.gap;
}

void Keeper::obey(const Orders& orders) {
  if (!orders.gap.empty()) {
    log("missing: " + orders.gap);
    session_->inbox().push(Inbox::Mark{true, orders.gap, wall_now_us()});
  }
  if (orders.tell_live) {
    log("live");
    session_->inbox().push(Inbox::Mark{false, "", wall_now_us()});
  }
  if (orders.terminate) {
    session_->say_stop("the daemon asks",
                       static_cast<uint32_t>(options_.limits.term_grace_us / 1000));
    process_.signal_group(SIGTERM);
  }
  if (orders.kill) process_.signal_group(SIGKILL);
  if (orders.spawn) spawn();
}

void Keeper::spawn() {
  std::string id = new_session_id();
  session_->renew(id);
  {
    // What the last process still told says nothing of this one.
    std::lock_guard lock(mutex_);
    told_.clear();
  }
  auto process = spawn_with(id);
  if (!process) {
    happen(Event::kSpawnFailed, process.error().message);
    return;
  }
  process_ = std::move(*process);
  usage_.begin(mono_now_us());
  log(fmt::format("started as process {}", process_.pid()));
}

// Ours inherit one end of a pair of sockets: no path, nothing to dial or to steal. Others get the
// path of the socket that this daemon holds the lock of.
Result<Process> Keeper::spawn_with(const std::string& session) {
  std::vector<std::string> arguments{"--session", session, "--parent", std::to_string(getpid())};
  bool ours = spec_.program.filename().string().starts_with("fairlead-plugin-");
  if (!ours || !adopt_) {
    arguments.insert(arguments.begin(), {"--socket", socket_.string()});
    return Process::spawn(spec_.program, arguments);
  }
  std::array<int, 2> pair{};
  if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0, pair.data()) != 0) {
    return fail(Code::kIo, "no pair of sockets: " + std::string(strerror(errno)));
  }
  arguments.insert(arguments.begin(), {"--fd", std::to_string(Process::kInheritedFd)});
  auto process = Process::spawn(spec_.program, arguments, pair[1]);
  close(pair[1]);
  if (process) {
    adopt_(pair[0]);
  } else {
    close(pair[0]);
  }
  return process;
}

void Keeper::read_output() {
  std::array<char, 4096> buffer;
  while (process_.output_fd() >= 0) {
    ssize_t got = read(process_.output_fd(), buffer.data(), buffer.size());
    if (got == 0) process_.close_output();
    if (got <= 0) return;
    std::string_view bytes(buffer.data(), static_cast<size_t>(got));
    for (const std::string& line : output_.add(bytes, mono_now_us())) log(line);
    // One buffer a turn: a child that never stops writing must not hold the others up.
    if (process_.running()) return;
  }
}

void Keeper::log(std::string_view words) const {
  if (options_.log) options_.log(fmt::format("plugin {}: {}", spec_.id, words));
}

Health Keeper::health() const {
  std::lock_guard lock(mutex_);
  Health health = health_;
  Session::Down down = session_->down();
  health.channels_down = down.channels;
  if (health.state == State::kLive) health.trouble = down.cause;
  return health;
}

}  // namespace fairlead::sensors
