// The daemon in one of its two roles, put together and running.
//
// Threads: made, polled and destroyed by main.
#pragma once

#include <memory>
#include <string>

#include "daemon/base/config.h"

namespace fairlead {

inline constexpr const char* kVersion = "0.1.0";

class RunningRole {
 public:
  virtual ~RunningRole() = default;
  /// Empty while all is well; else why the daemon must end: nothing is acknowledged any more.
  [[nodiscard]] virtual std::string failure() const = 0;
};

[[nodiscard]] Result<std::unique_ptr<RunningRole>> start_base(const Config& config);
[[nodiscard]] Result<std::unique_ptr<RunningRole>> start_truck(const Config& config);

}  // namespace fairlead
