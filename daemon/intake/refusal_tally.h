// Counts what the base refused, by device, reason and hour. The first refusal of an hour goes on
// record at once; those that follow it are counted and go on record together when the hour is over
// or the base stops. The counts of the entries of one hour add up to its refusals.
//
// Threads: one at a time. Times: Unix microseconds.
#pragma once

#include <functional>
#include <map>
#include <string>

#include "fairlead/v1/record.pb.h"

namespace fairlead::intake {

class RefusalTally {
 public:
  using Write = std::function<void(const v1::RefusedBody&)>;
  explicit RefusalTally(Write write) : write_(std::move(write)) {}

  /// `refused`: device, reason, first_seq; hour and count are filled in here.
  void add(v1::RefusedBody refused, int64_t now_us);
  /// Writes what was counted in hours that are over.
  void close_hours(int64_t now_us);
  /// Writes all that was counted.
  void close_all();

 private:
  Write write_;
  std::map<std::string, v1::RefusedBody> open_;  // Not written yet; count 0: nothing since.
};

}  // namespace fairlead::intake
