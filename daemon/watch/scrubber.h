// Reads everything stored again every so often, in the background at a quarter of the time, and
// tells of each damaged item; the same reading on demand, at once.
//
// When it was last done is kept in the ledger, so that a restart does not put it off. Threads: any.
#pragma once

#include <chrono>
#include <condition_variable>
#include <functional>
#include <mutex>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include "daemon/ledger/ledger.h"

namespace fairlead::watch {

struct ScrubState {
  bool running = false;
  ledger::AuditProgress progress;
  int64_t last_done_us = 0;  // 0 = never.
  std::vector<std::string> problems;
};

struct ScrubOptions {
  std::chrono::microseconds every = std::chrono::days(7);
  double share = 0.25;
  /// A damaged item not told of before, from the scrubber's or the asking thread.
  std::function<void(const std::string& item)> damaged;
  std::function<void(const std::string&)> log;
};

class Scrubber {
 public:
  Scrubber(ledger::Ledger& ledger, ScrubOptions options);
  /// Stops a reading under way.
  ~Scrubber();

  /// Everything now, as fast as it goes; one at a time.
  [[nodiscard]] Result<ledger::AuditReport> read_all();
  [[nodiscard]] ScrubState state() const;

 private:
  void loop();
  [[nodiscard]] int64_t due_us();
  [[nodiscard]] Result<ledger::AuditReport> read(double share);
  void tell(const std::vector<std::string>& problems);

  ledger::Ledger& ledger_;
  const ScrubOptions options_;
  std::mutex reading_;  // Held while one reads.
  mutable std::mutex mutex_;
  std::condition_variable wake_;
  bool stopping_ = false;
  ScrubState state_;
  std::set<std::string> told_;
  std::thread thread_;
};

}  // namespace fairlead::watch
