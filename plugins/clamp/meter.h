// SPDX-License-Identifier: GPL-3.0-or-later
// One meter through libsigrok. The library's loop is turned by ours, a piece at a time: a driver
// that spins on an unplugged meter then costs nothing, and one that hangs hangs the heartbeat too.
//
// Threads: one; the search for the meter runs on a thread of its own, as it may take seconds.
// Ownership: everything of the library belongs to the Meter. One Meter a process: the library's
// list of drivers is shared.
#pragma once

#include <functional>
#include <memory>
#include <string>

#include "daemon/base/result.h"
#include "plugins/clamp/config.h"
#include "plugins/clamp/protocol.h"

namespace fairlead::clamp {

class Meter {
 public:
  /// A reading; `channel` is the library's name of it.
  using Take = std::function<void(const std::string& channel, const Shown& shown)>;
  /// Called now and then while a search goes on; false: give up waiting.
  using Wait = std::function<bool()>;

  Meter(const Settings& settings, Take take);
  ~Meter();
  Meter(const Meter&) = delete;
  Meter& operator=(const Meter&) = delete;

  /// Finds the meter and begins to read. Errors: kNotFound for a driver that does not exist,
  /// kUnavailable when no meter answers.
  Status open(const Wait& wait);
  void close();
  [[nodiscard]] bool is_open() const;
  /// Does what is due at once, without waiting. False: the driver has ended by itself.
  bool turn();

 private:
  struct Library;
  std::unique_ptr<Library> library_;
};

}  // namespace fairlead::clamp
