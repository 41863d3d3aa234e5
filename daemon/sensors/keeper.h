// Keeps one plugin running: its state machine, its process, its conversation. Turns what happened
// into what the state machine orders.
//
// Threads: everything but tell() and health() belongs to the supervisor's process thread.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <utility>
#include <vector>

#include "daemon/sensors/life.h"
#include "daemon/sensors/output_lines.h"
#include "daemon/sensors/process.h"
#include "daemon/sensors/session.h"
#include "daemon/sensors/spec.h"
#include "daemon/sensors/usage.h"

namespace fairlead::sensors {

class Keeper {
 public:
  /// Takes the daemon's end of a pair of sockets whose other end the plugin inherits.
  using Adopt = std::function<void(int fd)>;

  /// `wake`: called by tell(), from any thread, after something was noted for handle().
  Keeper(PluginSpec spec, const SupervisorOptions& options, std::filesystem::path socket,
         std::function<void()> wake, Adopt adopt);

  void start();
  void stop();
  /// Everything that was told, the process's end, and the time.
  void handle();
  void read_output();

  [[nodiscard]] bool idle() const { return life_.state() == State::kIdle && !process_.running(); }
  [[nodiscard]] const Process& process() const { return process_; }
  [[nodiscard]] const std::shared_ptr<Session>& session() const { return session_; }
  [[nodiscard]] Health health() const;

 private:
  void tell(Event event, std::string detail);
  void happen(Event event, std::string_view detail = {});
  void obey(const Orders& orders);
  void spawn();
  [[nodiscard]] Result<Process> spawn_with(const std::string& session);
  void check_process();
  void check_usage();
  void log(std::string_view words) const;

  const PluginSpec spec_;
  const SupervisorOptions& options_;
  const std::filesystem::path socket_;
  const std::function<void()> wake_;
  const Adopt adopt_;
  Life life_;
  Process process_;
  OutputLines output_;
  UsageWatch usage_;
  std::shared_ptr<Session> session_;

  mutable std::mutex mutex_;
  std::vector<std::pair<Event, std::string>> told_;
  Health health_;
};

}  // namespace fairlead::sensors
