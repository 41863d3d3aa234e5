#include "daemon/judge/timeline.h"

#include <algorithm>
#include <utility>

#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

template <typename Combine>
Timeline merged(const Timeline& a, const Timeline& b, Combine combine) {
  Timeline out(combine(a.initial(), b.initial()));
  size_t i = 0, j = 0;
  Change in_a{.at = {}, .value = a.initial()}, in_b{.at = {}, .value = b.initial()};
  while (i < a.changes().size() || j < b.changes().size()) {
    const bool take_a =
        j >= b.changes().size() ||
        (i < a.changes().size() && a.changes()[i].at.time_us <= b.changes()[j].at.time_us);
    Change& changed = take_a ? in_a : in_b;
    changed = take_a ? a.changes()[i++] : b.changes()[j++];
    Change next = changed;
    next.value = combine(in_a.value, in_b.value);
    if (next.value == Tri::kUnknown && next.why_unknown == Reason::kNone) {
      next.why_unknown = take_a ? in_b.why_unknown : in_a.why_unknown;
    }
    out.add(next);
  }
  out.normalize();
  return out;
}

}  // namespace

std::optional<TimeDifference> time_from_to(const Stamp& a, const Stamp& b) {
  int64_t clocks_us = 0;
  if (a.frame != b.frame) {
    if (a.clock_u_us < 0 || b.clock_u_us < 0) return std::nullopt;
    clocks_us = root_sum_square(a.clock_u_us, b.clock_u_us);
  }
  const int64_t best = b.time_us - a.time_us;
  return TimeDifference{best - clocks_us - b.early_us - a.late_us, best,
                        best + clocks_us + b.late_us + a.early_us};
}

const Change* Timeline::change_at(int64_t time_us) const {
  const auto after =
      std::upper_bound(changes_.begin(), changes_.end(), time_us,
                       [](int64_t time, const Change& change) { return time < change.at.time_us; });
  return after == changes_.begin() ? nullptr : &*std::prev(after);
}

Tri Timeline::at(int64_t time_us) const {
  const Change* change = change_at(time_us);
  return change == nullptr ? initial_ : change->value;
}

bool Timeline::ever_known() const {
  return std::any_of(changes_.begin(), changes_.end(),
                     [](const Change& c) { return c.value != Tri::kUnknown || c.doubtful; });
}

void Timeline::append(const Change& change) {
  // Of several changes at one instant the last wins.
  if (!changes_.empty() && changes_.back().at.time_us == change.at.time_us) changes_.pop_back();
  if (!changes_.empty() && changes_.back().value == change.value) return;
  changes_.push_back(change);
}

void Timeline::normalize() {
  std::stable_sort(changes_.begin(), changes_.end(),
                   [](const Change& a, const Change& b) { return a.at.time_us < b.at.time_us; });
  std::vector<Change> kept;
  kept.reserve(changes_.size());
  Tri last = initial_;
  for (const Change& change : changes_) {
    // Of several changes at one instant the last wins, unless a clock stepped back: they only look
    // as if they were one instant's.
    const bool stepped = !kept.empty() && (kept.back().at.late_us > 0 || change.at.late_us > 0);
    if (!kept.empty() && !stepped && kept.back().at.time_us == change.at.time_us) {
      kept.pop_back();
      last = kept.empty() ? initial_ : kept.back().value;
    }
    if (change.value == last && !kept.empty()) continue;
    kept.push_back(change);
    last = change.value;
  }
  changes_ = std::move(kept);
}

Timeline Timeline::debounced(int64_t shortest_us) const {
  Timeline out(initial_);
  size_t run = 0;  // First change since the last one that was kept.
  const auto first_in_run = [&](size_t end, auto wanted) {
    size_t i = run;
    while (i < end && !wanted(changes_[i].value)) ++i;
    return i;
  };
  for (size_t i = 0; i < changes_.size(); ++i) {
    const Change& change = changes_[i];
    const Lasting lasting = lasting_of(i, shortest_us);
    if (lasting == Lasting::kNo) continue;
    const Tri steady = out.changes_.empty() ? initial_ : out.changes_.back().value;
    if (lasting == Lasting::kUnknown) {
      // Unknown from where the value first left the steady one: that, too, may have lasted or not.
      const size_t left = first_in_run(i, [&](Tri value) { return value != steady; });
      const bool away = left < i || change.value != steady;
      const bool gap = change.value == Tri::kUnknown;
      if (out.changes_.empty() ? away || gap : away && steady != Tri::kUnknown) {
        Change unknown{.at = {}, .value = Tri::kUnknown, .why_unknown = change.why_unknown};
        if (change.value != Tri::kUnknown) unknown.why_unknown = Reason::kClockDoubt;
        unknown.doubtful = changes_[left].value != Tri::kUnknown;
        unknown.at.time_us = changes_[left].at.time_us;
        out.add(unknown);
      }
    } else if (change.value != steady || out.changes_.empty()) {
      // Whatever was before: from its first edge on it is so.
      const size_t first = first_in_run(i, [&](Tri value) { return value == change.value; });
      Change kept = change;
      kept.at = changes_[first].at;
      if (steady == Tri::kUnknown && !out.changes_.empty())  // Known once it surely has come.
        kept.at.time_us += std::exchange(kept.at.late_us, 0);
      out.add(kept);
    }
    run = i + 1;
  }
  return out;
}

// Whether the change at `i` lasts; not known after a step back of its clock or the next one's,
// nor of what a gap follows at once: a lost line may have ended it.
Timeline::Lasting Timeline::lasting_of(size_t i, int64_t shortest_us) const {
  const Change& change = changes_[i];
  if (change.value == Tri::kUnknown) return Lasting::kUnknown;
  if (i + 1 == changes_.size()) return Lasting::kYes;
  const Change& next = changes_[i + 1];
  const int64_t length_us = next.at.time_us - change.at.time_us;
  const int64_t slack_us = change.at.late_us + next.at.late_us;
  if (length_us - slack_us >= shortest_us) return Lasting::kYes;
  return length_us + slack_us >= shortest_us ? Lasting::kUnknown : Lasting::kNo;
}

Timeline Timeline::as_input() const {
  Timeline out = *this;
  if (out.initial_ == Tri::kUnknown) out.initial_ = Tri::kFalse;
  return out;
}

bool Timeline::unknown_within(int64_t from_us, int64_t to_us) const {
  return unknown_reason(from_us, to_us) != Reason::kNone;
}

Reason Timeline::unknown_reason(int64_t from_us, int64_t to_us) const {
  const auto reason_of = [](Reason why) { return why == Reason::kNone ? Reason::kNoData : why; };
  const Change* at_start = change_at(from_us);
  if (at_start == nullptr && initial_ == Tri::kUnknown) return Reason::kNoData;
  if (at_start != nullptr && at_start->value == Tri::kUnknown)
    return reason_of(at_start->why_unknown);
  for (const Change& change : changes_) {
    if (change.at.time_us <= from_us) continue;
    if (change.at.time_us >= to_us) break;
    if (change.value == Tri::kUnknown) return reason_of(change.why_unknown);
  }
  return Reason::kNone;
}

Timeline timeline_not(const Timeline& a) {
  Timeline out(tri_not(a.initial()));
  for (Change change : a.changes()) {
    change.value = tri_not(change.value);
    out.add(change);
  }
  return out;
}

Timeline timeline_and(const Timeline& a, const Timeline& b) { return merged(a, b, tri_and); }
Timeline timeline_or(const Timeline& a, const Timeline& b) { return merged(a, b, tri_or); }

}  // namespace fairlead::judge
