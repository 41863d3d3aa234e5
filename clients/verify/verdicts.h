// What the verifier found: a list of plain sentences, one or more a step, and the exit code they
// amount to.
//
// Threads: one thread at a time.
#pragma once

#include <algorithm>
#include <string>
#include <vector>

namespace fairlead::verifier {

enum class Mark {
  kGood,       // Checked and in order.
  kShown,      // Nothing wrong; a reader should know it.
  kNote,       // Proven, with a reservation.
  kUnknown,    // A key or policy is not known.
  kDisproven,  // The record contradicts itself or was altered.
  kMalformed,  // Not a bundle, or not in its form.
};

struct Verdict {
  int step = 0;  // 0 is the form, 1 to 12 the steps of the check.
  Mark mark = Mark::kGood;
  std::string words;
};

/// Something the record says, for the eye to hold beside the pages: "finding", "pace met: ...".
struct Told {
  std::string what;
  std::string words;
};

/// Exit codes of the verifier.
enum class Exit { kProven = 0, kProvenWithNotes = 1, kDisproven = 2, kMalformed = 3, kUnknown = 4 };

class Verdicts {
 public:
  /// Kept in the order of the steps, whichever was done first.
  void add(int step, Mark mark, std::string words) {
    const auto at =
        std::upper_bound(list_.begin(), list_.end(), step,
                         [](int one, const Verdict& other) { return one < other.step; });
    list_.insert(at, {step, mark, std::move(words)});
  }
  void tell(std::string what, std::string words) {
    told_.push_back({std::move(what), std::move(words)});
  }
  [[nodiscard]] const std::vector<Verdict>& list() const { return list_; }
  [[nodiscard]] const std::vector<Told>& told() const { return told_; }
  /// True when this step has said something worse than a note.
  [[nodiscard]] bool failed(int step) const;
  /// The gravest mark decides: malformed, disproven, unknown, note.
  [[nodiscard]] Exit exit() const;

 private:
  std::vector<Verdict> list_;
  std::vector<Told> told_;
};

/// As people read it: the verdict in one sentence, what is wrong or to be noted, what the record
/// says, the list of checks, and the sentence that says what was not checked.
[[nodiscard]] std::string to_text(const Verdicts& verdicts);
/// The same as one JSON object: {"exit", "verdict", "steps": [{"step", "title", "mark", "words"}],
/// "record": [{"what", "words"}], "scope",
/// "not_promised"}.
[[nodiscard]] std::string to_json(const Verdicts& verdicts);

/// "seal", "heads and countersigners", ...
[[nodiscard]] const char* step_title(int step);

}  // namespace fairlead::verifier
