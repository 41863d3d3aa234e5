#include "daemon/record/json_tree.h"

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

#include "daemon/base/utf8.h"
#include "daemon/record/observation_words.h"

namespace fairlead::record {
namespace {

constexpr int kDeepest = 6;       // A line needs 4: object, kind, list, object.
constexpr size_t kMostKeys = 64;  // Of one object; the widest kind has 11.

// Watches the parser's events for what JSON allows and a line must not hold.
class Watcher {
 public:
  bool operator()(int depth, JsonTree::parse_event_t event, JsonTree& parsed) {
    using Event = JsonTree::parse_event_t;
    if (depth > kDeepest) set("line: is nested too deeply; write one flat observation");
    if (event == Event::object_start) keys_.emplace_back();
    if (event == Event::object_end && !keys_.empty()) keys_.pop_back();
    if (event == Event::key && !keys_.empty()) take_key(parsed.get_ref<const std::string&>());
    return problem_.empty();  // False drops the value: nothing more is kept once refused.
  }
  [[nodiscard]] const std::string& problem() const { return problem_; }

 private:
  void take_key(const std::string& key) {
    auto& keys = keys_.back();
    if (keys.size() >= kMostKeys) {
      set("line: has too many fields; write one observation");
    } else if (std::ranges::find(keys, key) != keys.end()) {
      set(shown(key) + ": stands twice; write it once");
    } else {
      keys.push_back(key);
    }
  }
  void set(std::string problem) {
    if (problem_.empty()) problem_ = std::move(problem);
  }

  std::vector<std::vector<std::string>> keys_;
  std::string problem_;
};

}  // namespace

Result<JsonTree> json_tree(std::string_view text) {
  if (!code_points(text)) {
    return fail(Code::kBadInput, "line: is not valid UTF-8; write the file as UTF-8");
  }
  Watcher watcher;
  try {
    auto tree = JsonTree::parse(text.begin(), text.end(), std::ref(watcher));
    if (!watcher.problem().empty()) return fail(Code::kBadInput, watcher.problem());
    return tree;
  } catch (const JsonTree::parse_error& error) {
    if (!watcher.problem().empty()) return fail(Code::kBadInput, watcher.problem());
    return fail(
        Code::kBadInput,
        fmt::format("line: is not JSON at character {}; write one JSON object a line", error.byte));
  } catch (const JsonTree::exception&) {
    // The only other one the parser throws: a number beyond what double holds.
    return fail(Code::kBadInput, "line: holds a number too large to keep; write a sane value");
  }
}

}  // namespace fairlead::record
