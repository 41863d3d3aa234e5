// What a group of cases found, and how it is printed: TAP on stdout, JSON into a file.
//
// Threads: each Findings belongs to one; printing comes after.
#pragma once

#include <string>
#include <vector>

namespace fairlead::conformance {

struct Findings {
  int group = 0;
  std::string title;
  std::vector<std::string> passed;
  std::vector<std::string> failed;
  std::string skipped;  // Why nothing was checked.

  /// One case: named by what must be so; `otherwise` says what was seen.
  bool check(bool good, const std::string& what, const std::string& otherwise = {}) {
    if (good) {
      passed.push_back(what);
    } else {
      failed.push_back(otherwise.empty() ? what : what + ": " + otherwise);
    }
    return good;
  }
};

/// Prints each group and case; the group's line is the TAP test.
void print_tap(const std::vector<Findings>& all);
[[nodiscard]] std::string to_json(const std::string& program, const std::vector<Findings>& all);

}  // namespace fairlead::conformance
