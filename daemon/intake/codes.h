// One-time codes at the base: a code is taken once, in its time, and after a few wrong tries not at
// all. What is counted is the truck's device line, so a new line begins afresh.
//
// Threads: any. Checking takes a tenth of a second on purpose.
#pragma once

#include <map>
#include <mutex>
#include <string>

#include "daemon/record/enrolment.h"

namespace fairlead::intake {

class Codes {
 public:
  static constexpr int kMostTries = 5;

  /// Errors: kDenied for a wrong, expired or exhausted code, in words; kBadInput for no code.
  [[nodiscard]] Status check(const record::DeviceLine& line, const std::string& typed,
                             int64_t now_us);

 private:
  static constexpr size_t kMostLines = 10'000;  // Beyond it the oldest counts are given up.
  std::mutex mutex_;
  std::map<Hash, int> wrong_;
};

}  // namespace fairlead::intake
