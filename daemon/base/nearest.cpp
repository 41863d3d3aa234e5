#include "daemon/base/nearest.h"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <numeric>
#include <vector>

namespace fairlead {
namespace {

constexpr size_t kLongestWord = 64;
constexpr size_t kShortList = 12;
constexpr size_t kMostWithPart = 3;
constexpr size_t kShortTail = 3;  // "on", "off": no name is known by its end alone.

std::string in_lower_case(std::string_view word) {
  std::string out(word.substr(0, kLongestWord));
  for (char& c : out) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return out;
}

// "speed" is a part of "vehicle.speed".
bool has_part(std::string_view name, std::string_view part) {
  const auto parts_end = [](char c) { return c == '.' || c == ':' || c == '_'; };
  for (size_t at = name.find(part); at != std::string_view::npos; at = name.find(part, at + 1)) {
    const size_t end = at + part.size();
    if ((at == 0 || parts_end(name[at - 1])) && (end == name.size() || parts_end(name[end])))
      return true;
  }
  return false;
}

}  // namespace

size_t edit_distance(std::string_view a, std::string_view b) {
  std::vector<size_t> row(b.size() + 1);
  std::iota(row.begin(), row.end(), size_t{0});
  for (size_t i = 0; i < a.size(); ++i) {
    size_t diagonal = row[0];
    row[0] = i + 1;
    for (size_t j = 0; j < b.size(); ++j) {
      const size_t replaced = diagonal + (a[i] == b[j] ? 0 : 1);
      diagonal = row[j + 1];
      row[j + 1] = std::min({row[j] + 1, row[j + 1] + 1, replaced});
    }
  }
  return row[b.size()];
}

std::string nearest(std::string_view word, std::span<const std::string_view> words) {
  if (word.size() > kLongestWord) word = word.substr(0, kLongestWord);
  std::string_view best;
  size_t fewest = word.size();
  for (const std::string_view candidate : words) {
    const size_t edits = edit_distance(word, candidate);
    if (edits >= fewest) continue;
    fewest = edits;
    best = candidate;
  }
  return std::string(best);
}

std::string suggestion(std::string_view word, std::span<const std::string_view> words) {
  const std::string mine = in_lower_case(word);
  const size_t dot = mine.find('.');
  const std::string head = dot == std::string::npos ? "" : mine.substr(0, dot + 1);
  const std::string tail = mine.substr(mine.rfind('.') + 1);
  size_t fewest = mine.size();
  std::string_view best;
  std::vector<std::string_view> with_part, with_head;
  for (const std::string_view candidate : words) {
    const std::string other = in_lower_case(candidate);
    // What both begin with says nothing of how near the rest is.
    const bool headed = !head.empty() && other.starts_with(head);
    const size_t allowed = (mine.size() - (headed ? head.size() : 0) + 2) / 3;
    const size_t edits = edit_distance(mine, other);
    if (edits <= allowed && edits < fewest) {
      fewest = edits;
      best = candidate;
    }
    if (!mine.empty() && has_part(other, mine)) with_part.push_back(candidate);
    if (!head.empty() && tail.size() > kShortTail && has_part(other, tail))
      with_part.push_back(candidate);
    if (headed) with_head.push_back(candidate);
  }
  if (!best.empty()) return fmt::format("the nearest is '{}'", best);
  if (with_part.size() == 1) return fmt::format("the nearest is '{}'", with_part[0]);
  if (!with_part.empty() && with_part.size() <= kMostWithPart)
    return fmt::format("the nearest are '{}'", fmt::join(with_part, "', '"));
  if (!with_head.empty() && with_head.size() <= kShortList)
    return fmt::format("of '{}' there are {}", head, fmt::join(with_head, ", "));
  if (words.empty() || words.size() > kShortList) return "";
  return fmt::format("{}{}", words.size() == 1 ? "there is only " : "one of ",
                     fmt::join(words, ", "));
}

}  // namespace fairlead
