// What a simulated instrument shows over time: a small text file, one point a line:
//
//   # seconds  name       value
//   0          line.pull  0
//   12.5       line.pull  8900
//
// Straight between points, held before the first and after the last. Times of one name ascend.
//
// Threads: reading is one thread's; a loaded profile is never changed.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/base/result.h"

namespace fairlead::sim {

class Profile {
 public:
  /// Errors: kBadInput "FILE:LINE: what; what to do"; kIo when the file cannot be read.
  static Result<Profile> load(const std::string& file);
  static Result<Profile> parse(std::string_view text, const std::string& file_name);

  [[nodiscard]] bool has(std::string_view name) const { return points_.contains(name); }
  /// `fallback` where the profile has no such name.
  [[nodiscard]] double at(std::string_view name, double seconds, double fallback = 0) const;
  [[nodiscard]] std::vector<std::string> names() const;
  /// Time of the last point.
  [[nodiscard]] double length_s() const { return length_s_; }

 private:
  std::map<std::string, std::vector<std::pair<double, double>>, std::less<>> points_;
  double length_s_ = 0;
};

}  // namespace fairlead::sim
