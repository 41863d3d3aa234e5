#include "clients/sim/profile.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <iterator>
#include <sstream>

namespace fairlead::sim {

namespace {
constexpr size_t kMaxBytes = 16 << 20;

Result<double> to_number(const std::string& word) {
  char* end = nullptr;
  double value = std::strtod(word.c_str(), &end);
  if (word.empty() || *end != '\0' || !std::isfinite(value)) {
    return fail(Code::kBadInput,
                fmt::format("\"{}\" is no number; write SECONDS NAME VALUE", word));
  }
  return value;
}
}  // namespace

Result<Profile> Profile::load(const std::string& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in) return fail(Code::kIo, file + ": cannot be read; check the path");
  std::string text{std::istreambuf_iterator<char>(in), {}};
  if (text.size() > kMaxBytes) return fail(Code::kBadInput, file + ": over 16 MB; shorten it");
  return parse(text, file);
}

Result<Profile> Profile::parse(std::string_view text, const std::string& file_name) {
  Profile profile;
  std::istringstream lines{std::string(text)};
  std::string line;
  for (int number = 1; std::getline(lines, line); ++number) {
    std::string where = fmt::format("{}:{}: ", file_name, number);
    line = line.substr(0, line.find('#'));
    std::istringstream words(line);
    std::string time_word, name, value_word, more;
    words >> time_word >> name >> value_word >> more;
    if (time_word.empty()) continue;
    if (value_word.empty() || !more.empty()) {
      return fail(Code::kBadInput, where + "three words are wanted; write SECONDS NAME VALUE");
    }
    auto seconds = to_number(time_word);
    if (!seconds) return fail_at(where, seconds.error());
    auto value = to_number(value_word);
    if (!value) return fail_at(where, value.error());
    auto& points = profile.points_[name];
    if (*seconds < 0 || (!points.empty() && *seconds < points.back().first)) {
      return fail(Code::kBadInput, where + "goes back in time; order the points of each name");
    }
    points.emplace_back(*seconds, *value);
    profile.length_s_ = std::max(profile.length_s_, *seconds);
  }
  if (profile.points_.empty()) {
    return fail(Code::kBadInput, file_name + ": holds no point; write SECONDS NAME VALUE");
  }
  return profile;
}

double Profile::at(std::string_view name, double seconds, double fallback) const {
  auto found = points_.find(name);
  if (found == points_.end()) return fallback;
  const auto& points = found->second;
  auto after = std::upper_bound(points.begin(), points.end(), seconds,
                                [](double t, const auto& point) { return t < point.first; });
  if (after == points.begin()) return points.front().second;
  if (after == points.end()) return points.back().second;
  auto before = std::prev(after);
  double share = (seconds - before->first) / (after->first - before->first);
  return before->second + share * (after->second - before->second);
}

std::vector<std::string> Profile::names() const {
  std::vector<std::string> names;
  for (const auto& [name, points] : points_) names.push_back(name);
  return names;
}

}  // namespace fairlead::sim
