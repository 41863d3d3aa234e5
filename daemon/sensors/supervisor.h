// Runs the plugins: starts them, listens to them, sees when one falls silent, ends it and starts it
// again, for ever; what they read goes to the sink. A missing sensor is a `sensor` and a `gap`
// observation, never a refusal to record the rest.
//
//   auto supervisor = Supervisor::start(options, specs, [&](v1::Observation o) {
//     return recorder.offer(std::move(o));  // false = full, offered again
//   });
//
// Threads: start, stop and destruction from one thread; health() any. Inside: one thread that owns
// the processes, one that delivers, gRPC's own.
#pragma once

#include <memory>
#include <string_view>
#include <vector>

#include "daemon/base/result.h"
#include "daemon/sensors/spec.h"

namespace fairlead::sensors {

class Supervisor {
 public:
  /// Errors: the runtime folder's (see RuntimeDir), kBadInput for two plugins of one id. A plugin
  /// that cannot be started is not an error: it is tried again and the record says so.
  static Result<std::unique_ptr<Supervisor>> start(SupervisorOptions options,
                                                   std::vector<PluginSpec> specs, Sink sink);
  virtual ~Supervisor() = default;

  /// Asks every plugin to end (SIGTERM, 2 s, SIGKILL of the group), delivers what they still sent
  /// for at most a second, and returns when no process is left. The destructor does the same.
  virtual void stop() = 0;
  [[nodiscard]] virtual std::vector<Health> health() const = 0;
  /// Switches an output (buzzer, lamp) of every plugin that has it, for `for_ms` (0: until told). A
  /// plugin that starts anew, or loses the daemon, has everything off: what has to stay on is
  /// commanded again and again. Returns how many plugins were told; what came of it is recorded as
  /// a `sensor` line. Threads: any.
  virtual int command(std::string_view output, bool on, uint32_t for_ms) = 0;
};

}  // namespace fairlead::sensors
