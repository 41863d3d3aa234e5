// Lines that come while a job runs, taken up where they change nothing that stands before them.
#include <algorithm>

#include "daemon/judge/job_lines_raw.h"

namespace fairlead::judge {
namespace {

using v1::Observation;

constexpr int64_t kLateUs = 10'000'000;  // What comes later than this costs a tree built anew.

// Lines that can change how those before them are read.
bool reaches_back(Observation::KindCase kind) {
  switch (kind) {
    case Observation::kOpened:
    case Observation::kClosed:
    case Observation::kAbandoned:
    case Observation::kReopened:
    case Observation::kUndo:
    case Observation::kGap:
    case Observation::kClockOffset:
      return true;
    default:
      return false;
  }
}

}  // namespace

std::optional<int> JobLines::grow(std::span<const ReadLine* const> fresh) {
  const bool open = opened_ != kNoLine && closed_ == kNoLine;
  if (!open && !fresh.empty()) return std::nullopt;
  size_t first_changed = lines_.size();
  for (const ReadLine* line : fresh) {
    if (!add(*line, first_changed)) return std::nullopt;
  }
  for (size_t i = first_changed; i < lines_.size(); ++i) lines_[i].stamp.line = static_cast<int>(i);
  list_lines(first_changed);
  if (first_changed < edge_.size()) edge_ = {};
  return static_cast<int>(first_changed);
}

// False: all must be read anew.
bool JobLines::add(const ReadLine& line, size_t& first_changed) {
  if (reaches_back(line.kind)) return false;
  if (foreign(line)) return true;
  // The first line of a source or of a clock gives it its place among the others.
  if (static_cast<size_t>(line.source) >= sources_.size()) return false;
  Source& own = source(line);
  const bool next = own.heard && line.seq == own.last_seq + 1 && !own.disbelieved_us;
  if (!next || !frames_.contains(line.clock)) return false;
  Stamp stamp;
  correct_clock(line, stamp);
  own.last_seq = line.seq;
  if (undone_.contains({reader_->sources.name(line.source), line.seq})) return true;
  if (is_mark(line)) {
    mark_us_.push_back(stamp.time_us);
    const size_t marks = mark_us_.size();
    if (marks >= kBurstMarks && stamp.time_us - mark_us_[marks - kBurstMarks] <= kBurstUs)
      return false;
  }
  if (!counts(line)) return true;
  // What a quantity is read from may change all that was known of it.
  if (line.quantity != kNoName && !speaks_of(line.source, line.quantity)) return false;
  if (ends_gap(line, stamp.time_us)) return false;
  size_t place = lines_.size();
  while (place > 0 &&
         before(line, stamp.time_us, *lines_[place - 1].read, lines_[place - 1].stamp.time_us)) {
    --place;
  }
  if (place <= static_cast<size_t>(opened_)) return false;
  keep(place, line, stamp);
  first_changed = std::min(first_changed, place);
  end_us_ = std::max(end_us_, stamp.time_us);
  return true;
}

// Whether a gap of the line's source lasted until now, or longer.
bool JobLines::ends_gap(const ReadLine& line, int64_t time_us) const {
  if (line.kind == Observation::kAlive) return false;
  const std::string_view signal = signal_of(line);
  return std::ranges::any_of(gaps_, [&](const SourceGap& gap) {
    return gap.to_us > time_us && gap.source == reader_->sources.name(line.source) &&
           (gap.channel.empty() || signal.empty() || signal == gap.channel);
  });
}

std::string_view JobLines::signal_of(const ReadLine& line) const {
  return line.kind == Observation::kSample ? reader_->quantities.name(line.quantity)
                                           : std::string_view();
}

// Kept over all but the newest lines, among which lines of other sources still fall.
Hash JobLines::root() {
  const auto is_old = [&](const JobLine& line) { return line.stamp.time_us < end_us_ - kLateUs; };
  for (size_t i = edge_.size(); i < lines_.size() && is_old(lines_[i]); ++i)
    edge_.grow(lines_[i].read->leaf);
  record::TreeEdge whole = edge_;
  for (size_t i = whole.size(); i < lines_.size(); ++i) whole.grow(lines_[i].read->leaf);
  return whole.root();
}

}  // namespace fairlead::judge
