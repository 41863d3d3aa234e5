#include "daemon/base/nearest.h"

#include <algorithm>
#include <numeric>
#include <vector>

namespace fairlead {

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
  constexpr size_t kLongestWord = 64;
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

}  // namespace fairlead
