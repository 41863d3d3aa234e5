#include "daemon/judge/job_lines.h"

#include <algorithm>
#include <cmath>
#include <tuple>

#include "daemon/judge/job_lines_raw.h"
#include "daemon/judge/undone.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

using v1::Observation;

constexpr int64_t kBeforeOpeningUs = 600'000'000;

// The job that opens first; empty when none does.
std::string first_opened(const std::vector<const ReadLine*>& lines) {
  const ReadLine* first = nullptr;
  const auto place = [](const ReadLine& line) {
    return std::tuple(line.time_us, std::string_view(line.observation->source()), line.seq);
  };
  for (const ReadLine* line : lines) {
    if (line->kind != Observation::kOpened) continue;
    if (first == nullptr || place(*line) < place(*first)) first = line;
  }
  return first == nullptr ? "" : first->observation->job();
}

std::vector<const ReadLine*> pointers_to(const std::vector<ReadLine>& lines) {
  std::vector<const ReadLine*> pointers;
  pointers.reserve(lines.size());
  for (const ReadLine& line : lines) pointers.push_back(&line);
  return pointers;
}

}  // namespace

JobLines::JobLines(std::span<const Observation> lines, const std::string& job)
    : reader_(&own_reader_), job_(job) {
  own_lines_.reserve(lines.size());
  for (const Observation& line : lines) own_lines_.push_back(own_reader_.read(line));
  build(pointers_to(own_lines_));
}

JobLines::JobLines(const LineReader& reader, std::span<const ReadLine* const> lines,
                   const std::string& job)
    : reader_(&reader), job_(job) {
  build({lines.begin(), lines.end()});
}

void JobLines::build(Lines lines) {
  if (job_.empty()) job_ = first_opened(lines);
  job_number_ = reader_->jobs.known(job_);
  sources_.resize(reader_->sources.size());
  find_span(lines);
  std::erase_if(lines, [&](const ReadLine* line) { return foreign(*line); });
  sort_by_source(lines);
  std::vector<Raw> raw = believed(lines);
  correct_clocks(raw);
  find_missing(raw);
  drop_undone(raw);
  widen_bursts(raw);
  keep_job(raw);
  list_lines(0);
  find_ends();
  find_gap_lines();
}

int64_t JobLines::start_us() const {
  return opened_ == kNoLine ? kBeginning : line(opened_).stamp.time_us;
}

std::optional<int64_t> JobLines::last_us(const std::string& source) const {
  const int number = reader_->sources.known(source);
  if (number == kNoName || static_cast<size_t>(number) >= sources_.size()) return std::nullopt;
  return sources_[static_cast<size_t>(number)].last_us;
}

// Shown times of the job's first opening and last end; open ends where there is none.
void JobLines::find_span(const Lines& lines) {
  int64_t opened_us = kForever, closed_us = kBeginning, reopened_us = kBeginning;
  for (const ReadLine* line : lines) {
    if (line->job != job_number_) continue;
    const auto kind = line->kind;
    const bool closes = kind == Observation::kClosed || kind == Observation::kAbandoned;
    if (kind == Observation::kOpened) opened_us = std::min(opened_us, line->time_us);
    if (closes) closed_us = std::max(closed_us, line->time_us);
    if (kind == Observation::kReopened) reopened_us = std::max(reopened_us, line->time_us);
  }
  if (reopened_us >= closed_us) closed_us = kBeginning;  // Open again, with no end yet.
  opened_us_ = opened_us == kForever ? kBeginning : opened_us;
  closed_us_ = closed_us == kBeginning ? kForever : closed_us;
}

// A line of another job, or of none, made while this one was not open tells nothing here: it may
// come from another recorder, with numbers of its own. What an instrument showed last before the
// opening still holds, so a line without a job counts from a little earlier.
bool JobLines::foreign(const ReadLine& line) const {
  if (job_.empty() || line.job == job_number_) return false;
  const int64_t before_us = reader_->jobs.name(line.job).empty() ? kBeforeOpeningUs : 0;
  return line.time_us < opened_us_ - before_us || line.time_us > closed_us_;
}

// By (source, seq).
void JobLines::sort_by_source(Lines& lines) {
  std::vector<int> by_name(sources_.size());
  for (size_t i = 0; i < by_name.size(); ++i) by_name[i] = static_cast<int>(i);
  std::ranges::sort(by_name, {},
                    [&](int i) -> const std::string& { return reader_->sources.name(i); });
  std::vector<size_t> counts(sources_.size());
  for (const ReadLine* line : lines) ++counts[static_cast<size_t>(line->source)];
  std::vector<std::vector<const ReadLine*>> of_source(sources_.size());
  for (size_t i = 0; i < counts.size(); ++i) of_source[i].reserve(counts[i]);
  for (const ReadLine* line : lines) of_source[static_cast<size_t>(line->source)].push_back(line);
  lines.clear();
  rank_.resize(sources_.size());
  int rank = 0;
  for (const int source : by_name) {
    auto& own = of_source[static_cast<size_t>(source)];
    if (!std::ranges::is_sorted(own, {}, &ReadLine::seq))
      std::ranges::stable_sort(own, {}, &ReadLine::seq);
    rank_[static_cast<size_t>(source)] = rank++;
    lines.insert(lines.end(), own.begin(), own.end());
  }
}

// Exact duplicates out; of two lines with one (source, seq) and other content neither is believed,
// nor anything of that source from there on.
std::vector<JobLines::Raw> JobLines::believed(Lines& lines) {
  const auto again = std::ranges::unique(lines, [](const ReadLine* a, const ReadLine* b) {
    return a->seq == b->seq && a->source == b->source && a->leaf == b->leaf;
  });
  lines.erase(again.begin(), again.end());
  std::vector<Raw> raw;
  raw.reserve(lines.size());
  bool any_disbelieved = false;
  for (size_t i = 0; i < lines.size(); ++i) {
    const ReadLine& line = *lines[i];
    const auto same_key = [&](size_t j) {
      return j < lines.size() && lines[j]->seq == line.seq && lines[j]->source == line.source;
    };
    if (!(i > 0 && same_key(i - 1)) && !same_key(i + 1)) {
      raw.push_back({&line, {}});
      raw.back().stamp.time_us = line.time_us;
      continue;
    }
    std::optional<int64_t>& from_us = source(line).disbelieved_us;
    from_us = std::min(from_us.value_or(line.time_us), line.time_us);
    any_disbelieved = true;
  }
  if (!any_disbelieved) return raw;
  std::map<std::string, int64_t> from;
  for (size_t i = 0; i < sources_.size(); ++i) {
    if (sources_[i].disbelieved_us)
      from[reader_->sources.name(static_cast<int>(i))] = *sources_[i].disbelieved_us;
  }
  for (const auto& [name, from_us] : from)
    gaps_.push_back({name, "", from_us, kForever, Reason::kSourcesDisagree, {}, true});
  std::erase_if(raw, [&](const Raw& one) {
    const auto& from_us = source(*one.line).disbelieved_us;
    return from_us && one.line->time_us >= *from_us && one.line->kind != Observation::kOpened;
  });
  return raw;
}

void JobLines::correct_clocks(std::vector<Raw>& raw) {
  int recorder = reader_->clocks.known("");
  for (const Raw& one : raw) {
    if (one.line->kind == Observation::kClockOffset) {
      const v1::ClockOffset& offset = one.line->observation->clock_offset();
      offsets_[reader_->clocks.known(offset.clock())].push_back({one.line->time_us, &offset});
    }
    if (one.line->kind == Observation::kOpened && one.line->job == job_number_)
      recorder = one.line->clock;
  }
  frames_ = {{recorder, 0}};
  for (Raw& one : raw) {
    frames_.try_emplace(one.line->clock, static_cast<int>(frames_.size()));
    correct_clock(*one.line, one.stamp);
  }
}

// In the order of the source's lines.
void JobLines::correct_clock(const ReadLine& line, Stamp& stamp) {
  stamp.time_us = line.time_us;
  stamp.frame = frames_.find(line.clock)->second;
  stamp.clock_u_us = stamp.frame == 0 ? 0 : -1;
  if (line.stated_u_us >= 0) stamp.clock_u_us = line.stated_u_us;
  const auto known = offsets_.find(line.clock);
  if (known != offsets_.end()) {
    const auto nearest = std::ranges::min_element(
        known->second, {}, [&](const Offset& one) { return std::abs(one.at_us - stamp.time_us); });
    // To the nearest microsecond, a half up, as quantities are.
    stamp.time_us -= static_cast<int64_t>(std::floor(nearest->offset->offset_ms() * 1000.0 + 0.5));
    const int64_t offset_u = ms_to_us_up(nearest->offset->sd_ms() * 1.645);
    stamp.clock_u_us =
        line.stated_u_us >= 0 ? root_sum_square(line.stated_u_us, offset_u) : offset_u;
  }
  Source& own = source(line);
  if (stamp.time_us <
      own.latest_us) {  // A step back: evaluated in seq order, but never as a margin.
    stamp.early_us += own.latest_us - stamp.time_us;
    stamp.late_us += own.latest_us - stamp.time_us;
    stamp.time_us = own.latest_us;
  }
  own.latest_us = stamp.time_us;
}

void JobLines::find_missing(const std::vector<Raw>& raw) {
  std::map<std::string, uint32_t> starts;
  for (const Raw& one : raw) {
    if (one.line->kind != Observation::kOpened || one.line->job != job_number_) continue;
    for (const v1::SourceSeq& first : one.line->observation->opened().first_seq())
      starts[first.source()] = first.seq();
  }
  int64_t before_us = kBeginning;
  for (const Raw& one : raw) {
    Source& own = source(*one.line);
    const uint32_t seq = one.line->seq;
    uint32_t expected = own.last_seq + 1;
    if (!own.heard) {
      const auto start = starts.find(reader_->sources.name(one.line->source));
      expected = start != starts.end() ? start->second : seq;
      before_us = kBeginning;
    }
    if (seq > expected) {
      const std::string& name = reader_->sources.name(one.line->source);
      missing_.insert(name);
      gaps_.push_back({name, "", before_us, one.stamp.time_us, Reason::kNoData,
                       int64_t{seq} - expected, false});
    }
    own.heard = true;
    own.last_seq = seq;
    before_us = one.stamp.time_us;
  }
}

void JobLines::drop_undone(std::vector<Raw>& raw) {
  std::vector<const Raw*> undos;
  for (const Raw& one : raw) {
    if (one.line->kind == Observation::kUndo) undos.push_back(&one);
  }
  std::ranges::stable_sort(undos, [&](const Raw* a, const Raw* b) {
    return before(*a->line, a->stamp.time_us, *b->line, b->stamp.time_us);
  });
  std::vector<const Observation*> lines;
  for (const Raw* one : undos) lines.push_back(one->line->observation);
  undone_ = undone_lines(lines);
  if (undone_.empty()) return;
  std::erase_if(raw, [&](const Raw& one) {
    return undone_.contains({reader_->sources.name(one.line->source), one.line->seq});
  });
}

std::optional<int64_t> JobLines::clock_width_us(const std::set<std::string>& sources,
                                                const Stamp& at) const {
  Stamp here;
  here.frame = at.frame;
  here.clock_u_us = at.clock_u_us;
  int64_t widest_us = 0;
  for (const std::string& name : sources) {
    const int number = reader_->sources.known(name);
    if (number == kNoName || static_cast<size_t>(number) >= sources_.size()) continue;
    for (const Stamp& there : sources_[static_cast<size_t>(number)].clocks) {
      const auto apart = time_from_to(here, there);
      if (!apart) return std::nullopt;
      widest_us = std::max(widest_us, apart->hi_us);
    }
  }
  return widest_us;
}

}  // namespace fairlead::judge
