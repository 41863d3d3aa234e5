// What a plugin writes to stderr, cut into log lines with a cap: a chattering plugin must not fill
// the disk through our log.
//
// Threads: one at a time.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace fairlead::sensors {

class OutputLines {
 public:
  static constexpr size_t kLongestLine = 500;
  static constexpr int kLinesPerSecond = 20;

  /// Whole lines that may be logged now; what is above the cap is counted and said later.
  std::vector<std::string> add(std::string_view bytes, int64_t now_us);
  /// What stands without a newline at the end.
  std::vector<std::string> rest(int64_t now_us);

 private:
  void line(std::vector<std::string>& out, int64_t now_us);

  std::string partial_;
  bool cut_ = false;
  int64_t second_ = -1;
  int in_second_ = 0;
  uint64_t left_out_ = 0;
};

}  // namespace fairlead::sensors
