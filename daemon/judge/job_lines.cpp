#include "daemon/judge/job_lines.h"

#include <algorithm>
#include <tuple>

#include "daemon/base/time_text.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

using v1::Observation;

constexpr int64_t kBurstUs = 5'000'000;  // Three operator marks within this are one burst.
constexpr size_t kBurstMarks = 3;
constexpr int64_t kBeforeOpeningUs = 600'000'000;
constexpr std::string_view kOperator = "operator";

int64_t ms_to_us_up(double ms) { return static_cast<int64_t>(ms * 1000.0 + 0.999999); }

// What a line says, without when it came in: equal for exact duplicates.
std::string content_of(const Observation& line) {
  if (!line.has_received()) return line.SerializeAsString();
  Observation copy = line;
  copy.clear_received();
  return copy.SerializeAsString();
}

// Lines that time the operator's hand: all but those a recorder writes by itself, and undo.
bool is_mark(const Observation& line) {
  switch (line.kind_case()) {
    case Observation::kAlive:
    case Observation::kGap:
    case Observation::kClockOffset:
    case Observation::kUndo:
      return false;
    default:
      return line.source() == kOperator;
  }
}

// Lines without a job of their own, or of another job of the truck, that count for every open job.
bool shared_by_jobs(const Observation& line) {
  switch (line.kind_case()) {
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

// The job that opens first; empty when none does.
std::string first_opened(std::span<const Observation> lines) {
  const Observation* first = nullptr;
  for (const Observation& line : lines) {
    if (!line.has_opened()) continue;
    if (first == nullptr ||
        std::forward_as_tuple(line.time(), line.source(), line.seq()) <
            std::forward_as_tuple(first->time(), first->source(), first->seq())) {
      first = &line;
    }
  }
  return first == nullptr ? "" : first->job();
}

// Shown times of the job's first opening and last end; open ends where there is none.
std::pair<int64_t, int64_t> span_of(std::span<const Observation> lines, const std::string& job) {
  int64_t opened_us = kForever, closed_us = kBeginning, reopened_us = kBeginning;
  for (const Observation& line : lines) {
    const bool bounds =
        line.has_opened() || line.has_closed() || line.has_abandoned() || line.has_reopened();
    if (!bounds || line.job() != job) continue;
    const int64_t at_us = parse_time_us(line.time()).value_or(0);
    if (line.has_opened()) opened_us = std::min(opened_us, at_us);
    if (line.has_closed() || line.has_abandoned()) closed_us = std::max(closed_us, at_us);
    if (line.has_reopened()) reopened_us = std::max(reopened_us, at_us);
  }
  if (reopened_us >= closed_us) closed_us = kBeginning;  // Open again, with no end yet.
  return {opened_us == kForever ? kBeginning : opened_us,
          closed_us == kBeginning ? kForever : closed_us};
}

// A line of another job, or of none, made while this one was not open tells nothing here: it may
// come from another recorder, with numbers of its own. What an instrument showed last before the
// opening still holds, so a line without a job counts from a little earlier.
bool foreign_to(const Observation& line, int64_t at_us, const std::string& job, int64_t opened_us,
                int64_t closed_us) {
  if (job.empty() || line.job() == job) return false;
  const int64_t before_us = line.job().empty() ? kBeforeOpeningUs : 0;
  return at_us < opened_us - before_us || at_us > closed_us;
}

}  // namespace

struct JobLines::Raw {
  const Observation* line = nullptr;
  Stamp stamp;
  std::string content;
};

JobLines::JobLines(std::span<const Observation> lines, const std::string& job) : job_(job) {
  if (job_.empty()) job_ = first_opened(lines);
  std::vector<Raw> raw;
  read(lines, raw);
  correct_clocks(raw);
  find_missing(raw);
  drop_undone(raw);
  widen_bursts(raw);
  keep_job(raw);
  find_ends();
  find_gap_lines();
}

int64_t JobLines::start_us() const {
  return opened_ == kNoLine ? kBeginning : line(opened_).stamp.time_us;
}

std::optional<int64_t> JobLines::last_us(const std::string& source) const {
  const auto found = last_us_.find(source);
  return found == last_us_.end() ? std::nullopt : std::optional(found->second);
}

// Sorted by (source, seq, content); exact duplicates out; of two lines with one (source, seq) and
// other content neither is believed, nor anything of that source from there on.
void JobLines::read(std::span<const Observation> lines, std::vector<Raw>& raw) {
  const auto [opened_us, closed_us] = span_of(lines, job_);
  for (const Observation& line : lines) {
    const int64_t at_us = parse_time_us(line.time()).value_or(0);
    if (foreign_to(line, at_us, job_, opened_us, closed_us)) continue;
    Raw one{&line, {}, content_of(line)};
    one.stamp.time_us = at_us;
    raw.push_back(std::move(one));
  }
  std::sort(raw.begin(), raw.end(), [](const Raw& a, const Raw& b) {
    return std::forward_as_tuple(a.line->source(), a.line->seq(), a.content) <
           std::forward_as_tuple(b.line->source(), b.line->seq(), b.content);
  });
  std::vector<size_t> kept;
  std::map<std::string, int64_t> disbelieved;
  for (size_t i = 0; i < raw.size(); ++i) {
    const auto same_key = [&](size_t j) {
      return j < raw.size() && raw[j].line->seq() == raw[i].line->seq() &&
             raw[j].line->source() == raw[i].line->source();
    };
    const bool duplicate = i > 0 && same_key(i - 1) && raw[i - 1].content == raw[i].content;
    if (duplicate) continue;
    const bool conflict =
        (i > 0 && same_key(i - 1)) || (same_key(i + 1) && raw[i + 1].content != raw[i].content);
    if (!conflict) {
      kept.push_back(i);
      continue;
    }
    auto [at, fresh] = disbelieved.try_emplace(raw[i].line->source(), raw[i].stamp.time_us);
    at->second = std::min(at->second, raw[i].stamp.time_us);
  }
  for (size_t i = 0; i < kept.size(); ++i) {
    if (kept[i] != i) raw[i] = std::move(raw[kept[i]]);
  }
  raw.resize(kept.size());
  for (const auto& [source, from] : disbelieved) {
    gaps_.push_back({source, "", from, kForever, Reason::kSourcesDisagree, {}, true});
    std::erase_if(raw, [&](const Raw& one) {
      return one.line->source() == source && one.stamp.time_us >= from &&
             one.line->kind_case() != Observation::kOpened;
    });
  }
}

void JobLines::correct_clocks(std::vector<Raw>& raw) const {
  std::map<std::string, std::vector<std::pair<int64_t, const v1::ClockOffset*>>> offsets;
  std::string recorder_clock;
  for (const Raw& one : raw) {
    if (one.line->has_clock_offset()) {
      offsets[one.line->clock_offset().clock()].push_back(
          {one.stamp.time_us, &one.line->clock_offset()});
    }
    if (one.line->has_opened() && one.line->job() == job_) {
      recorder_clock = one.line->has_clock() ? one.line->clock() : "source " + one.line->source();
    }
  }
  std::map<std::string, int> frames{{recorder_clock, 0}};
  std::string source;
  int64_t latest = kBeginning;
  for (Raw& one : raw) {
    const Observation& line = *one.line;
    const std::string clock = line.has_clock() ? line.clock() : "source " + line.source();
    Stamp& stamp = one.stamp;
    stamp.frame = frames.try_emplace(clock, static_cast<int>(frames.size())).first->second;
    stamp.clock_u_us = stamp.frame == 0 ? 0 : -1;
    int64_t stated = -1;
    if (line.has_time_uncertainty_ms()) stated = ms_to_us_up(line.time_uncertainty_ms());
    if (stated >= 0) stamp.clock_u_us = stated;
    if (const auto known = offsets.find(clock); known != offsets.end()) {
      const auto nearest = std::min_element(
          known->second.begin(), known->second.end(), [&](const auto& a, const auto& b) {
            return std::abs(a.first - stamp.time_us) < std::abs(b.first - stamp.time_us);
          });
      stamp.time_us -= static_cast<int64_t>(nearest->second->offset_ms() * 1000.0);
      const int64_t offset_u = ms_to_us_up(nearest->second->sd_ms() * 1.645);
      stamp.clock_u_us = stated >= 0 ? root_sum_square(stated, offset_u) : offset_u;
    }
    if (line.source() != source) {
      source = line.source();
      latest = kBeginning;
    }
    if (stamp.time_us < latest) {  // A step back: evaluated in seq order, but never as a margin.
      stamp.early_us += latest - stamp.time_us;
      stamp.late_us += latest - stamp.time_us;
      stamp.time_us = latest;
    }
    latest = stamp.time_us;
  }
}

void JobLines::drop_undone(std::vector<Raw>& raw) const {
  std::set<std::pair<std::string, uint32_t>> undone;
  for (const Raw& one : raw) {
    if (one.line->has_undo()) undone.insert({one.line->undo().source(), one.line->undo().seq()});
  }
  std::erase_if(
      raw, [&](const Raw& one) { return undone.contains({one.line->source(), one.line->seq()}); });
}

// Taps in a burst were made some time since the mark before it: they prove no order.
void JobLines::widen_bursts(std::vector<Raw>& raw) const {
  std::vector<Raw*> marks;
  for (Raw& one : raw) {
    if (is_mark(*one.line)) marks.push_back(&one);
  }
  size_t first = 0;
  while (first + kBurstMarks <= marks.size()) {
    size_t last = first;
    while (last + kBurstMarks - 1 < marks.size() &&
           marks[last + kBurstMarks - 1]->stamp.time_us - marks[last]->stamp.time_us <= kBurstUs) {
      ++last;
    }
    if (last == first) {
      ++first;
      continue;
    }
    const size_t end = last + kBurstMarks - 1;  // One past the burst's last mark.
    const int64_t back_to = marks[first > 0 ? first - 1 : first]->stamp.time_us;
    for (size_t i = first; i < end; ++i) {
      marks[i]->stamp.early_us += marks[i]->stamp.time_us - back_to;
    }
    first = end;
  }
}

void JobLines::find_missing(const std::vector<Raw>& raw) {
  std::map<std::string, uint32_t> starts;
  for (const Raw& one : raw) {
    if (!one.line->has_opened() || one.line->job() != job_) continue;
    for (const v1::SourceSeq& first : one.line->opened().first_seq()) {
      starts[first.source()] = first.seq();
    }
  }
  for (size_t i = 0; i < raw.size(); ++i) {
    const std::string& source = raw[i].line->source();
    const bool first_of_source = i == 0 || raw[i - 1].line->source() != source;
    const auto start = starts.find(source);
    const uint32_t expected = !first_of_source        ? raw[i - 1].line->seq() + 1
                              : start != starts.end() ? start->second
                                                      : raw[i].line->seq();
    if (raw[i].line->seq() <= expected) continue;
    missing_.insert(source);
    gaps_.push_back({source, "", first_of_source ? kBeginning : raw[i - 1].stamp.time_us,
                     raw[i].stamp.time_us, Reason::kNoData, int64_t{raw[i].line->seq()} - expected,
                     false});
  }
}

// Lines of this job, and what the truck measured, in the order they are judged in.
void JobLines::keep_job(std::vector<Raw>& raw) {
  std::stable_sort(raw.begin(), raw.end(), [](const Raw& a, const Raw& b) {
    return std::forward_as_tuple(a.stamp.time_us, a.line->source(), a.line->seq()) <
           std::forward_as_tuple(b.stamp.time_us, b.line->source(), b.line->seq());
  });
  for (Raw& one : raw) {
    if (one.line->job() != job_ && !shared_by_jobs(*one.line)) continue;
    const bool good = !one.line->has_quality() || one.line->quality() == v1::Quality::GOOD;
    one.stamp.line = static_cast<int>(lines_.size());
    lines_.push_back({one.line, one.stamp, good, std::move(one.content)});
    last_us_[one.line->source()] = one.stamp.time_us;
    note_clock(one.line->source(), one.stamp);
  }
}

// Of each clock a source read its times from, the line that is least sure.
void JobLines::note_clock(const std::string& source, const Stamp& stamp) {
  std::vector<Stamp>& clocks = clocks_[source];
  for (Stamp& known : clocks) {
    if (known.frame != stamp.frame) continue;
    if (known.clock_u_us >= 0 && (stamp.clock_u_us < 0 || stamp.clock_u_us > known.clock_u_us))
      known.clock_u_us = stamp.clock_u_us;
    return;
  }
  Stamp fresh;
  fresh.frame = stamp.frame;
  fresh.clock_u_us = stamp.clock_u_us;
  clocks.push_back(fresh);
}

std::optional<int64_t> JobLines::clock_width_us(const std::set<std::string>& sources,
                                                const Stamp& at) const {
  Stamp here;
  here.frame = at.frame;
  here.clock_u_us = at.clock_u_us;
  int64_t widest_us = 0;
  for (const std::string& source : sources) {
    const auto clocks = clocks_.find(source);
    if (clocks == clocks_.end()) continue;
    for (const Stamp& there : clocks->second) {
      const auto apart = time_from_to(here, there);
      if (!apart) return std::nullopt;
      widest_us = std::max(widest_us, apart->hi_us);
    }
  }
  return widest_us;
}

void JobLines::find_ends() {
  for (const JobLine& line : lines_) {
    const Observation& observation = *line.observation;
    if (observation.has_opened() && opened_ == kNoLine && observation.job() == job_) {
      opened_ = line.stamp.line;
    }
    if (observation.has_closed() || observation.has_abandoned()) {
      if (closed_ == kNoLine) closed_ = line.stamp.line;
    }
    if (observation.has_reopened()) closed_ = kNoLine;
    end_us_ = std::max(end_us_, line.stamp.time_us);
  }
  if (closed_ == kNoLine) return;
  end_us_ = line(closed_).stamp.time_us;
}

// A stated gap lasts from the source's (channel's) last line before it to its next one.
void JobLines::find_gap_lines() {
  struct Spoken {
    int64_t at_us;
    std::string_view signal;  // Of a sample; empty for any other line.
  };
  std::map<std::string_view, std::vector<Spoken>> by_source;
  std::vector<const JobLine*> stated;
  for (const JobLine& line : lines_) {
    const Observation& said = *line.observation;
    if (said.has_gap()) stated.push_back(&line);
  }
  if (stated.empty()) return end_gaps();
  for (const JobLine& line : lines_) {
    const Observation& said = *line.observation;
    if (said.has_gap() || said.has_alive()) continue;
    by_source[said.source()].push_back(
        {line.stamp.time_us,
         said.has_sample() ? std::string_view(said.sample().signal()) : std::string_view()});
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
