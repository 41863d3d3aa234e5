#include "tests/conformance/findings.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

namespace fairlead::conformance {

void print_tap(const std::vector<Findings>& all) {
  fmt::print("TAP version 13\n1..{}\n", all.size());
  int number = 0;
  for (const Findings& f : all) {
    bool good = f.failed.empty();
    fmt::print("{} {} - {:02} {}{}\n", good ? "ok" : "not ok", ++number, f.group, f.title,
               f.skipped.empty() ? "" : " # SKIP " + f.skipped);
    for (const std::string& words : f.passed) fmt::print("# ok: {}\n", words);
    for (const std::string& words : f.failed) fmt::print("# not ok: {}\n", words);
  }
}

std::string to_json(const std::string& program, const std::vector<Findings>& all) {
  nlohmann::ordered_json out;
  out["program"] = program;
  int failures = 0;
  for (const Findings& f : all) {
    nlohmann::ordered_json group;
    group["group"] = f.group;
    group["title"] = f.title;
    group["result"] = !f.failed.empty() ? "failed" : f.skipped.empty() ? "passed" : "skipped";
    if (!f.skipped.empty()) group["why"] = f.skipped;
    group["passed"] = f.passed;
    group["failed"] = f.failed;
    failures += f.failed.empty() ? 0 : 1;
    out["groups"].push_back(group);
  }
  out["failures"] = failures;
  return out.dump(2, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
}

}  // namespace fairlead::conformance
