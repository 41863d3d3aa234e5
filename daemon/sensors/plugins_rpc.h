// The gRPC server plugins dial: streams in, frames to their Session. Reactions only move messages.
//
// Threads: start and stop from one thread; the rest is gRPC's.
#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <string>

#include "daemon/base/result.h"
#include "daemon/sensors/session.h"

namespace fairlead::sensors {

class PluginServer {
 public:
  /// Finds the session a hello names; null when there is none.
  using Find = std::function<std::shared_ptr<Session>(const std::string& session_id)>;

  /// Listens on a Unix socket the caller holds the lock of. Errors: kIo.
  static Result<std::unique_ptr<PluginServer>> start(const std::filesystem::path& socket,
                                                     Find find);
  virtual ~PluginServer() = default;
  /// One more connection: our end of a pair of sockets, not blocking. Taken over. Threads: any.
  virtual void adopt(int fd) = 0;
  /// Ends every stream and waits until the last reaction is over.
  virtual void stop() = 0;
};

}  // namespace fairlead::sensors
