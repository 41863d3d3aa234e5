// The order in which a job's lines are judged, and what the order alone tells: bursts of taps, the
// job's ends, stated gaps, and the lists that rules ask for.
#include <algorithm>
#include <tuple>

#include "daemon/judge/job_lines.h"
#include "daemon/judge/job_lines_raw.h"

namespace fairlead::judge {
namespace {

using v1::Observation;

// Lines without a job of their own, or of another job of the truck, that count for every open job.
bool shared_by_jobs(Observation::KindCase kind) {
  switch (kind) {
    case Observation::kSample:
    case Observation::kFix:
    case Observation::kAlive:
    case Observation::kGap:
    case Observation::kClockOffset:
    case Observation::kSensor:
      return true;
    default:
      return false;
  }
}

}  // namespace

// Lines that time the operator's hand: all but those a recorder writes by itself, and undo.
bool JobLines::is_mark(const ReadLine& line) const {
  switch (line.kind) {
    case Observation::kAlive:
    case Observation::kGap:
    case Observation::kClockOffset:
    case Observation::kUndo:
      return false;
    default:
      return reader_->sources.name(line.source) == "operator";
  }
}

// Taps in a burst were made some time since the mark before it: they prove no order.
void JobLines::widen_bursts(std::vector<Raw>& raw) {
  std::vector<Raw*> marks;
  for (Raw& one : raw) {
    if (!is_mark(*one.line)) continue;
    marks.push_back(&one);
    mark_us_.push_back(one.stamp.time_us);
  }
  size_t first = 0;
  while (first + kBurstMarks <= marks.size()) {
    size_t last = first;
    while (last + kBurstMarks - 1 < marks.size() &&
           mark_us_[last + kBurstMarks - 1] - mark_us_[last] <= kBurstUs) {
      ++last;
    }
    if (last == first) {
      ++first;
      continue;
    }
    const size_t end = last + kBurstMarks - 1;  // One past the burst's last mark.
    const int64_t back_to = mark_us_[first > 0 ? first - 1 : first];
    for (size_t i = first; i < end; ++i) {
      marks[i]->stamp.early_us += mark_us_[i] - back_to;
    }
    first = end;
  }
}

bool JobLines::before(const ReadLine& a, int64_t a_us, const ReadLine& b, int64_t b_us) const {
  const int a_rank = rank_[static_cast<size_t>(a.source)],
            b_rank = rank_[static_cast<size_t>(b.source)];
  return std::tie(a_us, a_rank, a.seq) < std::tie(b_us, b_rank, b.seq);
}

// Lines of this job, and what the truck measured.
bool JobLines::counts(const ReadLine& line) const {
  return line.job == job_number_ || shared_by_jobs(line.kind);
}

// In the order they are judged in. Each source's lines stand in order already and want merging.
void JobLines::keep_job(const std::vector<Raw>& raw) {
  struct Run {
    size_t at, end;
  };
  std::vector<Run> runs;
  for (size_t i = 0; i < raw.size(); ++i) {
    if (i == 0 || raw[i].line->source != raw[i - 1].line->source) runs.push_back({i, i});
    runs.back().end = i + 1;
  }
  const auto later = [&](const Run& a, const Run& b) {
    const Raw &in_a = raw[a.at], &in_b = raw[b.at];
    return before(*in_b.line, in_b.stamp.time_us, *in_a.line, in_a.stamp.time_us);
  };
  std::make_heap(runs.begin(), runs.end(), later);
  lines_.reserve(raw.size());
  while (!runs.empty()) {
    std::pop_heap(runs.begin(), runs.end(), later);
    Run& run = runs.back();
    do {
      const Raw& one = raw[run.at++];
      if (counts(*one.line)) keep(lines_.size(), *one.line, one.stamp);
    } while (run.at < run.end && (runs.size() == 1 || !later(run, runs.front())));
    if (run.at == run.end)
      runs.pop_back();
    else
      std::push_heap(runs.begin(), runs.end(), later);
  }
}

// Of each clock a source read its times from, the line that is least sure is noted.
void JobLines::keep(size_t place, const ReadLine& line, Stamp stamp) {
  stamp.line = static_cast<int>(place);
  lines_.insert(lines_.begin() + static_cast<ptrdiff_t>(place),
                {line.observation, &line, stamp, line.good});
  Source& own = source(line);
  own.last_us = stamp.time_us;
  for (Stamp& known : own.clocks) {
    if (known.frame != stamp.frame) continue;
    if (known.clock_u_us >= 0 && (stamp.clock_u_us < 0 || stamp.clock_u_us > known.clock_u_us))
      known.clock_u_us = stamp.clock_u_us;
    return;
  }
  Stamp fresh;
  fresh.frame = stamp.frame;
  fresh.clock_u_us = stamp.clock_u_us;
  own.clocks.push_back(fresh);
}

// Lists of the lines from index `from` on; what they held of those is out of date.
void JobLines::list_lines(size_t from) {
  const auto old = [&](int line) { return line < static_cast<int>(from); };
  while (!spoken_.empty() && !old(spoken_.back())) spoken_.pop_back();
  while (!fixes_.empty() && !old(fixes_.back())) fixes_.pop_back();
  readings_.resize(reader_->quantities.size());
  speakers_.resize(reader_->quantities.size());
  for (std::vector<Reading>& readings : readings_) {
    while (!readings.empty() && !old(readings.back().line)) readings.pop_back();
  }
  for (size_t i = from; i < lines_.size(); ++i) {
    const ReadLine& read = *lines_[i].read;
    const int index = static_cast<int>(i);
    if (read.quantity != kNoName) {
      readings_[static_cast<size_t>(read.quantity)].push_back({index, read.value});
      if (!speaks_of(read.source, read.quantity))
        speakers_[static_cast<size_t>(read.quantity)].push_back(read.source);
    }
    if (read.kind == Observation::kFix)
      fixes_.push_back(index);
    else if (read.kind != Observation::kSample && read.kind != Observation::kAlive)
      spoken_.push_back(index);
  }
}

const std::vector<Reading>& JobLines::readings(std::string_view quantity) const {
  static const std::vector<Reading> kNone;
  const auto number = static_cast<size_t>(reader_->quantities.known(quantity));
  return number >= readings_.size() ? kNone : readings_[number];  // kNoName too.
}

bool JobLines::speaks_of(int source, int quantity) const {
  const auto number = static_cast<size_t>(quantity);
  return number < speakers_.size() &&
         std::ranges::find(speakers_[number], source) != speakers_[number].end();
}

std::set<std::string> JobLines::reading_sources(std::string_view quantity) const {
  std::set<std::string> names;
  const auto number = static_cast<size_t>(reader_->quantities.known(quantity));
  if (number >= speakers_.size()) return names;  // kNoName too.
  for (const int source : speakers_[number]) names.insert(reader_->sources.name(source));
  return names;
}

void JobLines::find_ends() {
  for (const int index : spoken_) {
    const JobLine& line = lines_[static_cast<size_t>(index)];
    const auto kind = line.read->kind;
    if (kind == Observation::kOpened && opened_ == kNoLine) opened_ = index;
    const bool ends = kind == Observation::kClosed || kind == Observation::kAbandoned;
    if (ends && closed_ == kNoLine) closed_ = index;
    if (kind == Observation::kReopened) closed_ = kNoLine;
  }
  if (!lines_.empty()) end_us_ = lines_.back().stamp.time_us;
  if (closed_ != kNoLine) end_us_ = line(closed_).stamp.time_us;
}

// A stated gap lasts from the source's (channel's) last line before it to its next one.
void JobLines::find_gap_lines() {
  struct Spoken {
    int64_t at_us;
    std::string_view signal;  // Of a sample; empty for any other line.
  };
  std::map<std::string_view, std::vector<Spoken>> by_source;
  std::vector<const JobLine*> stated;
  for (const int index : spoken_) {
    if (line(index).read->kind != Observation::kGap) continue;
    stated.push_back(&line(index));
    by_source[source_of(line(index))];
  }
  if (stated.empty()) return end_gaps();
  for (const JobLine& line : lines_) {
    if (line.read->kind == Observation::kGap || line.read->kind == Observation::kAlive) continue;
    const auto own = by_source.find(source_of(line));
    if (own != by_source.end()) own->second.push_back({line.stamp.time_us, signal_of(*line.read)});
  }
  for (const JobLine* line : stated) {
    SourceGap gap{line->observation->source(),
                  line->observation->gap().channel(),
                  kBeginning,
                  kForever,
                  Reason::kNoData,
                  {},
                  true};
    if (gap.channel == gap.source) gap.channel.clear();
    const std::vector<Spoken>& spoken = by_source[gap.source];
    const auto speaks = [&](const Spoken& one) {
      return gap.channel.empty() || one.signal.empty() || one.signal == gap.channel;
    };
    const auto after =
        std::upper_bound(spoken.begin(), spoken.end(), line->stamp.time_us,
                         [](int64_t time, const Spoken& one) { return time < one.at_us; });
    const auto before = std::find_if(std::reverse_iterator(after), spoken.rend(), speaks);
    const auto next = std::find_if(after, spoken.end(), speaks);
    if (before != spoken.rend()) gap.from_us = before->at_us;
    if (next != spoken.end()) gap.to_us = next->at_us;
    gaps_.push_back(gap);
  }
  end_gaps();
}

// A gap that no later line ends.
void JobLines::end_gaps() {
  for (SourceGap& gap : gaps_) {
    if (gap.to_us == kForever && gap.reason == Reason::kNoData) gap.reason = Reason::kCutShort;
  }
}

}  // namespace fairlead::judge
