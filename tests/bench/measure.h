// Time and arithmetic of the benchmarks.
//
// Threads: pure functions.
#pragma once

#include <algorithm>
#include <chrono>
#include <cstdlib>
#include <ctime>
#include <span>
#include <string_view>
#include <vector>

namespace fairlead::bench {

/// CPU of all threads of this process, and the wall clock, since construction.
class Stopwatch {
 public:
  [[nodiscard]] double cpu_s() const { return cpu_now() - cpu_; }
  [[nodiscard]] double wall_s() const {
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - wall_).count();
  }

 private:
  static double cpu_now() {
    timespec t{};
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return static_cast<double>(t.tv_sec) + static_cast<double>(t.tv_nsec) * 1e-9;
  }
  double cpu_ = cpu_now();
  std::chrono::steady_clock::time_point wall_ = std::chrono::steady_clock::now();
};

[[nodiscard]] inline double median(std::vector<double> values) {
  std::ranges::sort(values);
  return values.empty() ? 0 : values[values.size() / 2];
}

/// Number after `name` on the command line, or `otherwise`.
[[nodiscard]] inline int number_option(std::span<char*> arguments, std::string_view name,
                                       int otherwise) {
  for (size_t i = 1; i + 1 < arguments.size(); ++i) {
    if (name == arguments[i]) return std::atoi(arguments[i + 1]);
  }
  return otherwise;
}
[[nodiscard]] inline const char* text_option(std::span<char*> arguments, std::string_view name,
                                             const char* otherwise) {
  for (size_t i = 1; i + 1 < arguments.size(); ++i) {
    if (name == arguments[i]) return arguments[i + 1];
  }
  return otherwise;
}
[[nodiscard]] inline bool flag_option(std::span<char*> arguments, std::string_view name) {
  return std::ranges::any_of(arguments, [&](const char* a) { return name == a; });
}

}  // namespace fairlead::bench
