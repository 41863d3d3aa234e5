#include "daemon/sensors/usage.h"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <sstream>

namespace fairlead::sensors {

namespace {
constexpr int64_t kLookEveryUs = 500'000;
// Looks in a row before a busy or flooding process is ended: a start or a burst is none.
constexpr int kPatience = 3;

std::string slurp(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}
}  // namespace

std::optional<Usage> usage_of(int pid) {
  const std::string folder = fmt::format("/proc/{}/", pid);
  std::istringstream pages(slurp(folder + "statm"));
  int64_t all = 0, resident = 0;
  if (!(pages >> all >> resident)) return std::nullopt;
  Usage usage;
  usage.rss_kib = resident * (sysconf(_SC_PAGESIZE) / 1024);
  // The name may hold anything but ends with the last bracket; user and system time are the 12th
  // and 13th word behind it (proc(5)).
  std::string stat = slurp(folder + "stat");
  size_t end = stat.rfind(')');
  if (end == std::string::npos) return std::nullopt;
  std::istringstream words(stat.substr(end + 1));
  std::string skipped;
  for (int i = 0; i < 11; ++i) words >> skipped;
  int64_t user_ticks = 0, system_ticks = 0;
  words >> user_ticks >> system_ticks;
  usage.cpu_us = (user_ticks + system_ticks) * 1'000'000 / sysconf(_SC_CLK_TCK);
  std::error_code error;
  for (std::filesystem::directory_iterator it(folder + "fd", error), last; !error && it != last;
       it.increment(error)) {
    ++usage.open_files;
  }
  return usage;
}

void UsageWatch::begin(int64_t now_us) {
  due_us_ = now_us + kLookEveryUs;
  last_us_ = now_us;
  last_newest_us_ = now_us;
  last_cpu_us_ = 0;
  last_readings_ = 0;
  busy_looks_ = 0;
  flood_looks_ = 0;
}

std::optional<std::string> UsageWatch::judge(const Usage& usage, uint64_t readings,
                                             int64_t newest_us, int64_t now_us) {
  due_us_ = now_us + kLookEveryUs;
  auto span_us = static_cast<double>(std::max<int64_t>(1, now_us - last_us_));
  double cpu = static_cast<double>(usage.cpu_us - last_cpu_us_) / span_us;
  newest_us = std::clamp(newest_us, last_newest_us_, std::max(last_newest_us_, now_us));
  double taken_us = std::max(span_us, static_cast<double>(newest_us - last_newest_us_));
  double rate = static_cast<double>(readings - last_readings_) * 1e6 / taken_us;
  last_newest_us_ = newest_us;
  last_us_ = now_us;
  last_cpu_us_ = usage.cpu_us;
  last_readings_ = readings;
  busy_looks_ = cpu > limits_.most_cpu_share ? busy_looks_ + 1 : 0;
  flood_looks_ = rate > limits_.most_readings_s ? flood_looks_ + 1 : 0;
  if (usage.rss_kib > limits_.most_rss_kib) {
    return fmt::format("it takes {} MiB of memory, allowed are {}", usage.rss_kib / 1024,
                       limits_.most_rss_kib / 1024);
  }
  if (usage.open_files > limits_.most_open_files) {
    return fmt::format("it holds {} open files, allowed are {}", usage.open_files,
                       limits_.most_open_files);
  }
  if (busy_looks_ >= kPatience) {
    return fmt::format("it takes {:.0f} % of a core, allowed are {:.0f} %", cpu * 100,
                       limits_.most_cpu_share * 100);
  }
  if (flood_looks_ >= kPatience) {
    return fmt::format("it sends {:.0f} readings a second, allowed are {:.0f}", rate,
                       limits_.most_readings_s);
  }
  return std::nullopt;
}

}  // namespace fairlead::sensors
