// Three-valued facts over time: what was so, was not so, or cannot be known (strong Kleene logic).
//
// Threads: values only.
#pragma once

#include <cstdint>
#include <limits>
#include <optional>
#include <vector>

#include "daemon/judge/finding.h"

namespace fairlead::judge {

enum class Tri : uint8_t { kFalse, kTrue, kUnknown };

[[nodiscard]] constexpr Tri tri_not(Tri a) {
  return a == Tri::kUnknown ? a : a == Tri::kTrue ? Tri::kFalse : Tri::kTrue;
}
[[nodiscard]] constexpr Tri tri_and(Tri a, Tri b) {
  if (a == Tri::kFalse || b == Tri::kFalse) return Tri::kFalse;
  return a == Tri::kTrue && b == Tri::kTrue ? Tri::kTrue : Tri::kUnknown;
}
[[nodiscard]] constexpr Tri tri_or(Tri a, Tri b) {
  return tri_not(tri_and(tri_not(a), tri_not(b)));
}

constexpr int64_t kBeginning = std::numeric_limits<int64_t>::min() / 4;
constexpr int64_t kForever = std::numeric_limits<int64_t>::max() / 4;
constexpr int kNoLine = -1;

/// When something happened and how surely. Times of one frame (clock) compare exactly, but for
/// the widths early_us and late_us, which steps back of a clock and bursts of taps add.
struct Stamp {
  int64_t time_us = 0;
  int64_t early_us = 0;    // It may have been this much earlier than time_us ...
  int64_t late_us = 0;     // ... or this much later.
  int frame = 0;           // Clock the time was read from; 0 = the recorder's.
  int64_t clock_u_us = 0;  // One-sided 95 % against the recorder's clock; < 0 = not known.
  int line = kNoLine;      // Index of the line that says so.
  Basis basis = Basis::kSaid;
};

/// Time from `a` to `b`: best, lo, hi in us; nullopt when the two clocks cannot be compared.
struct TimeDifference {
  int64_t lo_us, best_us, hi_us;
};
[[nodiscard]] std::optional<TimeDifference> time_from_to(const Stamp& a, const Stamp& b);

struct Change {
  Stamp at;
  Tri value = Tri::kUnknown;
  Reason why_unknown = Reason::kNone;
  bool doubtful = false;  // Unknown only whether a change that was seen lasted.
};

/// A fact from the beginning on: `initial`, then each change, sorted by time.
class Timeline {
 public:
  explicit Timeline(Tri initial = Tri::kFalse) : initial_(initial) {}

  void add(const Change& change) { changes_.push_back(change); }
  /// Adds one not earlier than all before it, and leaves out what normalize() would.
  void append(const Change& change);
  /// Whether append() would keep this value.
  [[nodiscard]] bool changes_to(Tri value, int64_t time_us) const {
    return changes_.empty() || changes_.back().value != value ||
           changes_.back().at.time_us == time_us;
  }
  [[nodiscard]] Tri initial() const { return initial_; }
  [[nodiscard]] const std::vector<Change>& changes() const { return changes_; }
  /// Whether any line ever named the fact, or a gap may hide that one did.
  [[nodiscard]] bool named() const { return !changes_.empty(); }
  /// Whether it was ever known to change.
  [[nodiscard]] bool ever_known() const;
  /// The change in force at `time_us`, nullptr while none has come.
  [[nodiscard]] const Change* change_at(int64_t time_us) const;
  [[nodiscard]] Tri at(int64_t time_us) const;

  /// Sorted, equal neighbours merged.
  void normalize();
  /// A true or false that does not last `shortest_us` is none; one that lasts is dated at the
  /// first edge away from the last steady value. Where a gap or a step back of a clock leaves open
  /// whether it lasted, the fact is unknown from that edge on.
  [[nodiscard]] Timeline debounced(int64_t shortest_us) const;
  /// As an input of a derived fact: what no line has named counts as false.
  [[nodiscard]] Timeline as_input() const;
  /// Whether the fact is unknown anywhere in [from, to).
  [[nodiscard]] bool unknown_within(int64_t from_us, int64_t to_us) const;
  /// The reason of the first unknown in [from, to); kNoData when it names none.
  [[nodiscard]] Reason unknown_reason(int64_t from_us, int64_t to_us) const;

 private:
  enum class Lasting : uint8_t { kNo, kYes, kUnknown };
  [[nodiscard]] Lasting lasting_of(size_t i, int64_t shortest_us) const;

  Tri initial_;
  std::vector<Change> changes_;
};

[[nodiscard]] Timeline timeline_not(const Timeline& a);
[[nodiscard]] Timeline timeline_and(const Timeline& a, const Timeline& b);
[[nodiscard]] Timeline timeline_or(const Timeline& a, const Timeline& b);

}  // namespace fairlead::judge
