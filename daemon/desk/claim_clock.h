// Due dates of a claim by the clock the owner chose. "49cfr370" takes the days of 49 CFR 370.5 and
// 370.9: acknowledge within 30 days of receipt, answer within 120, and while it is open say how it
// stands at 120 days and every 60 days after. Whether that part applies to a claim is for counsel.
//
// Threads: pure functions. Units: microseconds since 1970 UTC; days are days of UTC, the day of a
// date itself is still in time.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace fairlead::desk {

struct ClaimMoment {
  enum class Kind { kAcknowledged, kStatus, kAnswer } kind;
  int64_t at_us = 0;
};

struct DueDate {
  std::string what, origin;
  int64_t due_us = 0;  // Midnight at which its day begins.
  std::optional<int64_t> done_us;
  [[nodiscard]] bool overdue(int64_t now_us) const;
  /// Whole days left; negative when overdue.
  [[nodiscard]] int32_t days_left(int64_t now_us) const;
};

[[nodiscard]] bool is_clock(const std::string& clock);

/// Kept ones, overdue ones and the next of each kind, in order of their days. `moments` in order of
/// time. Empty for "none" and for an unknown clock.
[[nodiscard]] std::vector<DueDate> due_dates(const std::string& clock, int64_t received_us,
                                             const std::vector<ClaimMoment>& moments,
                                             int64_t now_us);

/// "2027-04-29".
[[nodiscard]] std::string day_text(int64_t time_us);

}  // namespace fairlead::desk
