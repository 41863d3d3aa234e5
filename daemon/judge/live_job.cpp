#include "daemon/judge/live_job.h"

#include <algorithm>
#include <span>

#include "daemon/judge/judge_state.h"

namespace fairlead::judge {

LiveJob::LiveJob(Rulebook rulebook, std::string job)
    : rulebook_(std::move(rulebook)), job_(std::move(job)), record_(std::make_unique<Record>()) {}
LiveJob::~LiveJob() = default;
LiveJob::LiveJob(LiveJob&&) noexcept = default;
LiveJob& LiveJob::operator=(LiveJob&&) noexcept = default;

void LiveJob::add(v1::Observation line) {
  Record& record = *record_;
  const v1::Observation& kept = record.said.emplace_back(std::move(line));
  ReadLine& read = record.read.emplace_back(record.reader.read(kept));
  record.lines.push_back(&read);
  if (record.reader.let_go(read)) record.said.pop_back();
  newest_us_ = std::max(newest_us_, record.lines.back()->time_us);
}

size_t LiveJob::lines() const { return record_->lines.size(); }

Judgement LiveJob::judge(const Options& options) {
  const std::span<const ReadLine* const> all(record_->lines);
  const bool goes_on = state_ != nullptr && state_->grow(all.subspan(taken_));
  if (!goes_on) {
    state_ = std::make_unique<JobState>(rulebook_.content(), record_->reader, all, job_);
    ++readings_;
  }
  taken_ = all.size();
  return judgement_of(rulebook_, *state_, newest_us_, options);
}

}  // namespace fairlead::judge
