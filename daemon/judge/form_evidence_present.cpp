// evidence_present: at least n of the named items before or after an anchor event, within a
// window (Declare: existence(n)). m = count - n. One case acquits; only completeness condemns.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "daemon/base/exact_math.h"
#include "daemon/judge/forms.h"
#include "daemon/judge/tag_fixes.h"

namespace fairlead::judge {
namespace {

struct Count {
  int64_t surely = 0, possibly = 0;
  std::set<Reason> doubts;
  bool hidden = false;  // Items may lie in a gap.
  std::vector<int> lines;
  Basis basis = Basis::kNone;
};

// Whether one item stands on the right side of the anchor: surely, possibly.
struct Side {
  bool surely, possibly;
};

Side side_of(const EvidencePresent& form, const Stamp& item, const Stamp& anchor) {
  const bool before = !form.before.empty();
  const auto lead = before ? time_from_to(item, anchor) : time_from_to(anchor, item);
  if (!lead) return {false, true};
  const int64_t window = form.window_us.value_or(kForever);
  // "Before" excludes the anchor's own instant only by the order of the lines.
  return {lead->lo_us >= 0 && lead->hi_us <= window, lead->hi_us >= 0 && lead->lo_us <= window};
}

constexpr int64_t kFixHoldsUs = 10'000'000;  // How old a fix may be and still tell the place.

// Where the truck was: the last fix of its own receiver.
const v1::Fix* place_at(const JobView& view, int64_t time_us) {
  const auto before = fixes_in(view.lines, kBeginning, time_us + 1);
  for (size_t i = before.size(); i-- > 0;) {
    const JobLine& line = view.lines.line(before[i]);
    if (!line.good || line.observation->source() != "gps.truck") continue;
    const bool fresh = time_us - line.stamp.time_us <= kFixHoldsUs;
    return fresh && line.observation->fix().mode() >= 2 ? &line.observation->fix() : nullptr;
  }
  return nullptr;
}

// Whether the item was made within the radius of where the anchor was.
Tri within_radius(const JobView& view, const EvidencePresent& form, const Stamp& item,
                  const Stamp& anchor, std::set<Reason>& doubts) {
  if (!form.radius_mm) return Tri::kTrue;
  const v1::Fix* here = place_at(view, item.time_us);
  const v1::Fix* there = place_at(view, anchor.time_us);
  if (here == nullptr || there == nullptr) {
    doubts.insert(Reason::kNoData);
    return Tri::kUnknown;
  }
  constexpr double kMetresADegree = 111'194.9;  // Mean radius 6,371.0 km (from memory).
  const double north = (there->lat_deg() - here->lat_deg()) * kMetresADegree;
  const double east = (there->lon_deg() - here->lon_deg()) * kMetresADegree *
                      exact_cos_deg((there->lat_deg() + here->lat_deg()) / 2);
  const double far = std::sqrt(north * north + east * east);
  const double u =
      1.645 * std::sqrt(here->h_sd_m() * here->h_sd_m() + there->h_sd_m() * there->h_sd_m());
  const double radius = static_cast<double>(*form.radius_mm) / 1000.0;
  if (far - u > radius) return Tri::kFalse;
  if (far + u <= radius) return Tri::kTrue;
  doubts.insert(Reason::kTooClose);
  return Tri::kUnknown;
}

Count count_items(JobView& view, const EvidencePresent& form, const Stamp& anchor) {
  Count count;
  const bool each_once = form.items.size() >= form.at_least;
  for (const std::string& item : form.items) {
    int64_t surely = 0, possibly = 0;
    for (const Stamp& stamp : view.facts.events(item)) {
      const Side side = side_of(form, stamp, anchor);
      if (!side.possibly) continue;
      if (stamp.line != kNoLine && !view.lines.line(stamp.line).good) {
        ++possibly;  // Damaged: does not count, but somebody did something there.
        count.doubts.insert(Reason::kSourcesDisagree);
        continue;
      }
      std::set<Reason> place_doubts;
      const Tri near = within_radius(view, form, stamp, anchor, place_doubts);
      if (near == Tri::kFalse) continue;
      count.doubts.insert(place_doubts.begin(), place_doubts.end());
      ++possibly;
      const bool counts = side.surely && near == Tri::kTrue;
      surely += counts;
      if (!side.surely) count.doubts.insert(Reason::kClockDoubt);
      if (counts && stamp.line != kNoLine) {
        // A film is several views, but one piece of evidence.
        if (std::find(count.lines.begin(), count.lines.end(), stamp.line) == count.lines.end())
          count.lines.push_back(stamp.line);
        count.basis = weaker(count.basis, stamp.basis);
      }
    }
    count.surely += each_once ? std::min<int64_t>(surely, 1) : surely;
    count.possibly += each_once ? std::min<int64_t>(possibly, 1) : possibly;
    for (const HiddenSpan& span : view.facts.hidden(item)) {
      // Nothing is made after the job's end.
      const bool in_reach = form.before.empty()
                                ? span.to_us > anchor.time_us && span.from_us <= view.lines.end_us()
                                : span.from_us < anchor.time_us;
      if (!in_reach || (each_once && possibly != 0)) continue;
      count.doubts.insert(span.reason);
      count.hidden = true;
    }
  }
  return count;
}

// Why an anchor hidden in a gap could change the count: before enough items; or it is the one that
// what comes after is counted from, first seen after the gap.
std::optional<Reason> earlier_anchor(JobView& view, const EvidencePresent& form,
                                     const std::string& event, const Stamp& anchor) {
  for (const HiddenSpan& span : view.facts.hidden(event)) {
    if (span.from_us >= anchor.time_us) continue;
    if (form.before.empty()) {
      if (anchor.early_us > 0 && span.to_us > anchor.time_us - anchor.early_us) return span.reason;
      continue;
    }
    Stamp earliest = anchor;
    earliest.time_us = span.from_us;
    earliest.early_us = 0;
    if (count_items(view, form, earliest).surely < form.at_least) return span.reason;
  }
  return std::nullopt;
}

// Why an anchor that nobody saw could want for items: one in a gap, as late in it as can be.
// With a window or a radius no item seen is surely near it; without, what was there before an
// anchor is there before a later one.
std::set<Reason> anchors_unseen(JobView& view, const Rule& rule, const EvidencePresent& form,
                                const std::string& event, const Stamp& seen) {
  std::set<Reason> reasons;
  const bool anywhere = form.window_us || form.radius_mm;
  if (!form.before.empty() && !anywhere) return reasons;
  for (const HiddenSpan& span : hidden_for(view, rule, event)) {
    if (span.from_us >= view.lines.end_us()) continue;
    Stamp latest = seen;
    latest.time_us = span.to_us;
    latest.early_us = latest.late_us = 0;
    if (anywhere || count_items(view, form, latest).surely < form.at_least)
      reasons.insert(span.reason);
  }
  return reasons;
}

Occasion occasion_of(JobView& view, const EvidencePresent& form, const std::string& event,
                     const Stamp& anchor) {
  const Count count = count_items(view, form, anchor);
  Occasion occasion;
  const int64_t wanted = form.at_least;
  occasion.value = {count.surely, count.surely, count.possibly};
  occasion.margin = {count.surely - wanted, count.surely - wanted, count.possibly - wanted};
  occasion.at_us = anchor.time_us;
  occasion.limit = wanted;
  if (count.surely < wanted) {
    occasion.doubts = count.doubts;
    if (count.hidden) occasion.margin.hi = std::nullopt;  // More may lie in a gap.
    // What is still to come after the anchor can only be missed once the job has ended.
    if (!form.after.empty() && view.lines.closed() == kNoLine) {
      occasion.doubts.insert(Reason::kNotYet);
      occasion.margin.hi = std::nullopt;
    }
  }
  const auto earlier = earlier_anchor(view, form, event, anchor);
  const bool enough_after = form.before.empty() && count.surely >= wanted;
  if (earlier && !enough_after) occasion.doubts.insert(*earlier);
  cite(view, anchor, "closes", occasion);
  for (const int line : count.lines) {
    if (occasion.evidence.size() < 4)
      occasion.evidence.push_back(evidence_of(view, line, "critical"));
  }
  occasion.basis = count.basis == Basis::kNone ? anchor.basis : count.basis;
  occasion.words = fmt::format("{} {}", form.before.empty() ? "after" : "before",
                               form.before.empty() ? form.after : form.before);
  return occasion;
}

}  // namespace

void judge_form(JobView& view, const Rule& rule, const EvidencePresent& form, Outcomes& out) {
  const std::string& anchor_event = form.before.empty() ? form.after : form.before;
  Outcome outcome{.rule_id = rule.id,
                  .worst = {},
                  .dimension = Dimension::kCount,
                  .unit = "items",
                  .quantity = "items",
                  .limit = fmt::format("at least {} {} {}", form.at_least,
                                       form.before.empty() ? "after" : "before", anchor_event),
                  .limit_stored = form.at_least,
                  .listened = view.facts.sources(anchor_event),
                  .remarks = {}};
  for (const std::string& item : form.items) {
    const auto more = view.facts.sources(item);
    outcome.listened.insert(more.begin(), more.end());
  }
  std::vector<Occasion> occasions;
  for (const Stamp& anchor : view.facts.events(anchor_event)) {
    if (!within_while(view, rule, anchor.time_us)) continue;
    if (excused(view, rule, anchor.time_us)) continue;
    occasions.push_back(occasion_of(view, form, anchor_event, anchor));
    doubt_outside(view, rule, anchor.time_us, occasions.back());
  }
  if (!occasions.empty()) {
    const Stamp& seen = view.facts.events(anchor_event).front();
    occasions.front().doubts.merge(anchors_unseen(view, rule, form, anchor_event, seen));
  }
  conclude(view, rule, outcome, occasions, anchor_event, Bounds::kAtLeast);
  out.push_back(std::move(outcome));
}

}  // namespace fairlead::judge
