// The table of a truck's sensors as a terminal shows it: 80 columns, a line a channel, a small
// strip of its last values.
//
// Threads: one.
#pragma once

#include <deque>
#include <map>
#include <string>
#include <utility>

#include "fairlead/v1/sensors_service.pb.h"

namespace fairlead::cli {

class SensorsTable {
 public:
  static constexpr size_t kStrip = 18;
  /// A new look; returns the table, its head first.
  [[nodiscard]] std::string text(const v1::GetSensorsResponse& now);

 private:
  struct Mark {
    double value = 0;
    bool good = false;
  };
  std::map<std::pair<std::string, std::string>, std::deque<Mark>> strips_;
};

/// "4,903.3 N" and the like: digits that fit the size of the number.
[[nodiscard]] std::string value_text(double value, const std::string& unit);

}  // namespace fairlead::cli
