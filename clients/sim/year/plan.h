// What happens in the invented year: which job, when, on which truck, by whom, and what goes wrong.
// Everything is drawn from the seed, at rates that stand here, so that a summary of the year can be
// held against them.
//
// Threads: pure functions. Units: microseconds since 1970 UTC.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

namespace fairlead::sim {

/// One way a job can go: a recorded trace of the fleet, and how often its kind of work goes so.
struct Variant {
  const char* trace;  // Folder under tests/traces.
  const char* work;   // Of variants of one work the shares add up to 1.
  double share = 0;
  /// In the last quarter of the span: the change that charts should find.
  double share_late = 0;
  /// Pictures taken before the first touch after all; a source that was silent.
  bool photos_in_time = false;
  const char* silent = "";
};
[[nodiscard]] const std::vector<Variant>& variants();
/// Of all jobs, how many are of the variant's work: a share.
[[nodiscard]] double share_of_work(const Variant& variant);

struct YearPlan {
  uint64_t seed = 1;
  int64_t from_us = 0;
  int days = 365;
  uint32_t jobs = 20'000;
};

struct PlannedJob {
  int64_t opened_us = 0;
  size_t variant = 0;
  int truck = 1;      // 1 to 12
  int operator_ = 1;  // 1 to 18
  bool claimed = false;
  int claim_after_days = 0;
  bool sensed_without = false;  // The winch ran before it with no job open.
};
/// In order of time; a truck's jobs never overlap.
[[nodiscard]] std::vector<PlannedJob> plan_year(const YearPlan& plan);

inline constexpr int kTrucks = 12, kOperators = 18;

}  // namespace fairlead::sim
