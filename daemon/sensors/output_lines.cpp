#include "daemon/sensors/output_lines.h"

#include <fmt/format.h>

#include <utility>

#include "daemon/sensors/translate.h"

namespace fairlead::sensors {

std::vector<std::string> OutputLines::add(std::string_view bytes, int64_t now_us) {
  std::vector<std::string> out;
  for (char c : bytes) {
    if (c == '\n') {
      line(out, now_us);
    } else if (partial_.size() < kLongestLine) {
      partial_ += c;
    } else {
      cut_ = true;
    }
  }
  return out;
}

std::vector<std::string> OutputLines::rest(int64_t now_us) {
  std::vector<std::string> out;
  if (!partial_.empty()) line(out, now_us);
  if (left_out_ > 0) {
    out.push_back(fmt::format("({} lines left out)", std::exchange(left_out_, 0)));
  }
  return out;
}

void OutputLines::line(std::vector<std::string>& out, int64_t now_us) {
  std::string words = tame(std::exchange(partial_, {}), kLongestLine);
  if (std::exchange(cut_, false)) words += "...";
  int64_t second = now_us / 1'000'000;
  if (second != second_) {
    second_ = second;
    in_second_ = 0;
    if (left_out_ > 0) {
      out.push_back(fmt::format("({} lines left out)", std::exchange(left_out_, 0)));
    }
  }
  if (++in_second_ > kLinesPerSecond) {
    ++left_out_;
    return;
  }
  out.push_back(std::move(words));
}

}  // namespace fairlead::sensors
