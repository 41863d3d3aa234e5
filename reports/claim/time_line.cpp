// The time line: every mark in order, steps of the clock among them, and beside the device's own
// times the brackets that countersigners prove.
#include <algorithm>

#include "reports/claim/parts.h"
#include "reports/claim/words.h"

namespace fairlead::reports {
namespace {

// The layout engine takes seconds for each thousand rows; the rest stands in the bundle.
constexpr size_t kMostRows = 400;

std::string photo_exhibit(const JobFacts& facts, const v1::Observation& line) {
  for (size_t i = 0; i < facts.photos.size(); ++i) {
    if (facts.photos[i].source == line.source() && facts.photos[i].seq == line.seq()) {
      return exhibit('P', i);
    }
  }
  return {};
}

TimeBracket bracket_of(const ClaimInput& in, const TimedLine& mark) {
  const auto index = static_cast<size_t>(mark.line - in.record.lines.data());
  return index < in.record.brackets.size() ? in.record.brackets[index] : TimeBracket{};
}

Json time_or_false(const ClaimInput& in, const std::optional<int64_t>& time_us) {
  return time_us ? Json(in.local.date_clock(*time_us)) : Json(false);
}

std::string other_day(const ClaimInput& in, int64_t time_us) {
  const std::string date = in.local.date(time_us);
  return date == in.local.date(in.facts.begin_us) ? "" : "on " + date + ": ";
}

Json mark_row(const ClaimInput& in, size_t index, bool two_clocks) {
  const TimedLine& mark = in.facts.lines[index];
  const std::string photo = photo_exhibit(in.facts, *mark.line);
  const TimeBracket bracket = bracket_of(in, mark);
  return {
      {"number", std::to_string(index + 1)},
      {"local", in.local.clock_tenths(mark.time_us)},
      {"utc", two_clocks ? Json(LocalTime(0, "").clock_tenths(mark.time_us)) : Json(false)},
      {"source", source_words(mark.line->source())},
      {"words", other_day(in, mark.time_us) + shortened(line_words(in.record, *mark.line), 600)},
      {"exhibit", photo.empty() ? Json(false) : Json(photo)},
      {"not_before", time_or_false(in, bracket.not_before_us)},
      {"not_after", time_or_false(in, bracket.not_after_us)},
      {"back", mark.taken_back ? Json("taken back later") : Json(false)}};
}

// Not numbered: the charts name the marks by their numbers.
Json step_row(const ClaimInput& in, const ClockStepFact& step, bool two_clocks) {
  return {{"number", ""},
          {"local", in.local.clock_tenths(step.shown_us)},
          {"utc", two_clocks ? Json(LocalTime(0, "").clock_tenths(step.shown_us)) : Json(false)},
          {"source", "clock"},
          {"words", other_day(in, step.shown_us) + "The truck's clock, which should have shown " +
                        in.local.date_clock(step.expected_us) + ", was " +
                        clock_step_words(step.shown_us - step.expected_us) + " (entry " +
                        grouped(step.leaf) + ")"},
          {"exhibit", false},
          {"not_before", false},
          {"not_after", false},
          {"back", false}};
}

// Marks of one entry, or of entries that saw the same heads, have the same bracket.
Json bracket_rows(const ClaimInput& in, size_t shown_lines) {
  Json rows = Json::array();
  for (size_t from = 0; from < shown_lines;) {
    const TimeBracket bracket = bracket_of(in, in.facts.lines[from]);
    size_t to = from + 1;
    while (to < shown_lines && bracket_of(in, in.facts.lines[to]) == bracket) ++to;
    const auto& [not_before, not_after] = bracket;
    rows.push_back(
        {{"lines", to == from + 1 ? std::to_string(to)
                                  : std::to_string(from + 1) + " to " + std::to_string(to)},
         {"not_before", not_before ? in.local.date_clock(*not_before) : "not known"},
         {"not_after", not_after ? in.local.date_clock(*not_after) : "not known"},
         {"wide", not_before && not_after
                      ? span_words(std::max<int64_t>(*not_after - *not_before, 0))
                      : "open"}});
    from = to;
  }
  return rows;
}

Json brackets_block(const ClaimInput& in, size_t shown_lines) {
  const bool any = std::ranges::any_of(in.record.brackets, [](const TimeBracket& bracket) {
    return bracket.not_before_us || bracket.not_after_us;
  });
  return {{"has_rows", any},
          {"rows", any ? bracket_rows(in, shown_lines) : Json::array()},
          {"words",
           any ? "Times above are the truck's own clock. A bracket does not rest on it: not before "
                 "the newest countersignature that the head the truck had seen contains, not after "
                 "the first on a head that covers the line. It is as wide as the time between "
                 "countersignatures."
               : "Not countersigned: no bracket. The times above are the truck's own clock; "
                 "nothing outside the owner's hands bounds them yet."}};
}

}  // namespace

Json timeline_part(const ClaimInput& in) {
  // Without an offset both clocks would say the same.
  const bool two_clocks = !in.local.is_utc();
  const size_t shown_lines = std::min(in.facts.lines.size(), kMostRows);
  Json rows = Json::array();
  auto step = in.record.clock_steps.begin();
  for (size_t i = 0; i < shown_lines; ++i) {
    // A clock that ran back has no place in the order of its own times: before what came after it.
    while (step != in.record.clock_steps.end() &&
           std::min(step->shown_us, step->expected_us) <= in.facts.lines[i].time_us) {
      rows.push_back(step_row(in, *step++, two_clocks));
    }
    rows.push_back(mark_row(in, i, two_clocks));
  }
  for (; step != in.record.clock_steps.end(); ++step)
    rows.push_back(step_row(in, *step, two_clocks));
  const size_t more = in.facts.lines.size() - shown_lines;
  return {
      {"date", in.local.date(in.facts.begin_us)},
      {"two_clocks", two_clocks},
      {"rows", std::move(rows)},
      {"brackets", brackets_block(in, shown_lines)},
      {"more", more == 0 ? Json(false) : Json(grouped(more) + " more lines stand in the bundle.")}};
}

}  // namespace fairlead::reports
