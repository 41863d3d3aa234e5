#include "daemon/desk/summary_jobs.h"

#include <algorithm>
#include <mutex>
#include <optional>
#include <thread>
#include <unordered_map>

#include "daemon/base/time_text.h"
#include "daemon/desk/report_input.h"
#include "daemon/record/packer.h"
#include "daemon/record/strip.h"
#include "daemon/watch/job_record.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::desk {
namespace {

using reports::RuleName;
using reports::RuleNames;
using reports::SummaryJob;

// The text of a word in a finding's line. Its keys stand bare; in free text every quote has a
// backslash before it, so that `"verdict":"` is never part of a sentence.
std::string_view word_in(std::string_view line, std::string_view key) {
  const size_t at = line.find(key);
  if (at == std::string_view::npos) return {};
  const size_t from = at + key.size();
  return line.substr(from, line.find('"', from) - from);
}

template <typename Word, size_t N>
Word one_of(std::string_view text, const Word (&all)[N]) {
  for (const Word one : all) {
    if (text == judge::word(one)) return one;
  }
  return all[0];
}

/// Rules by the procedure's hash and their id, read once for all jobs that pin the same files.
class Titles {
 public:
  explicit Titles(const Desk& desk) : desk_(desk) {}

  Status learn(const std::vector<v1::Pin>& pins) {
    std::string key;
    for (const auto& pin : pins) key += pin.sha256();
    if (!known_.insert(key).second) return {};
    const auto rules = watch::rules_of(desk_.ledger(), pins);
    if (!rules) return std::unexpected(rules.error());
    for (const auto& finding : judge::judge_job(*rules, {}, {})) {
      const auto named = reports::summary_finding(finding, names_);
      by_rule_[finding.procedure_sha256 + finding.rule] = named.name;
    }
    return {};
  }
  [[nodiscard]] std::shared_ptr<const RuleName> find(std::string_view sha,
                                                     std::string_view rule) const {
    const auto it = by_rule_.find(std::string(sha) + std::string(rule));
    return it == by_rule_.end() ? nullptr : it->second;
  }
  RuleNames& names() { return names_; }

 private:
  const Desk& desk_;
  std::set<std::string> known_;
  std::unordered_map<std::string, std::shared_ptr<const RuleName>> by_rule_;
  RuleNames names_;
};

// False: some line names a rule that the pinned files do not have.
bool take_recorded(const std::vector<std::string>& lines, const Titles& titles,
                   reports::JobRecord& record, SummaryJob& job) {
  using judge::Applies, judge::Verdict, judge::Reason, judge::Basis;
  for (const std::string_view line : lines) {
    reports::SummaryFinding f;
    f.name = titles.find(word_in(line, "\"procedureSha256\":\""), word_in(line, "\"rule\":\""));
    if (f.name == nullptr) return false;
    f.applies =
        one_of(word_in(line, "\"applies\":\""), {Applies::kUnknown, Applies::kYes, Applies::kNo});
    f.verdict = one_of(word_in(line, "\"verdict\":\""),
                       {Verdict::kNone, Verdict::kMet, Verdict::kDeviated, Verdict::kUnproven});
    f.reason = one_of(word_in(line, "\"reason\":\""),
                      {Reason::kNone, Reason::kNoData, Reason::kTooClose, Reason::kClockDoubt,
                       Reason::kSourcesDisagree, Reason::kNotYet, Reason::kCutShort});
    f.basis = one_of(word_in(line, "\"basis\":\""),
                     {Basis::kNone, Basis::kMeasured, Basis::kPictured, Basis::kSaid});
    if (f.verdict == Verdict::kDeviated) {
      // For the warnings: which rules deviated in the end.
      judge::Finding deviated;
      deviated.rule = f.name->rule;
      deviated.procedure_id = f.name->procedure;
      deviated.verdict = f.verdict;
      deviated.settled = true;
      record.findings.push_back(std::move(deviated));
    }
    job.findings.push_back(std::move(f));
  }
  return true;
}

// Of samples a summary counts the jaws' contacts alone; the rest, most of a job's lines, need not
// become messages.
bool is_counted(const record::StripLane& lane) {
  return lane.signal.empty() || lane.signal.ends_with(".contact");
}

struct Read {
  reports::JobRecord record;
  std::vector<v1::Pin> pins;
  uint64_t entries = 0;  // Under its id, made by devices.
  bool all_here = true;  // No body is missing or erased.
};

// The job's own lines, and those of its truck that name no job.
Result<Read> read_lines(const Desk& desk, const watch::JobView& view) {
  const auto entries = desk.ledger().job_entries(view.job);
  if (!entries) return std::unexpected(entries.error());
  Read out;
  out.record.job_id = hex_of(view.job);
  for (const ledger::StoredEntry& entry : *entries) {
    const auto header = entry.header();
    if (record::is_base_kind(header.kind)) continue;
    out.entries += header.job_id == view.job;
    if (entry.body_state != ledger::BodyState::kHere) {
      out.all_here = false;
      continue;
    }
    v1::JobOpenBody open;
    if (entry.leaf == view.row.open_leaf && open.ParseFromString(entry.body))
      out.pins.assign(open.pins().begin(), open.pins().end());
    auto lines = header.kind == record::Kind::kStrip
                     ? record::decode_strip(entry.body, is_counted)
                     : record::observations_of(header.kind, entry.body);
    if (!lines) return std::unexpected(lines.error());
    for (auto& line : *lines) {
      if (line.job().empty() || line.job() == view.name || line.job() == out.record.job_id)
        out.record.lines.push_back(std::move(line));
    }
  }
  return out;
}

// What is recovered, quarantined, incomplete or open takes the long way.
bool is_plain(const watch::JobView& view, const Read& read) {
  return view.closed && view.settled && !view.findings.empty() && view.quarantined == 0 &&
         view.recovered == 0 && view.bodies_lost == 0 && read.all_here && !read.pins.empty();
}

Result<SummaryJob> read_one(Desk& desk, const watch::JobView& view, Titles& titles) {
  auto read = read_lines(desk, view);
  if (!read) return std::unexpected(read.error());
  SummaryJob recorded;
  bool known = is_plain(view, *read);
  if (known) {
    if (auto ok = titles.learn(read->pins); !ok) return std::unexpected(ok.error());
    known = take_recorded(view.findings.lines(), titles, read->record, recorded);
  }
  if (!known) {
    auto whole = report_input(desk, view.job, false);
    if (!whole) return std::unexpected(whole.error());
    auto job = reports::summary_job(*whole, titles.names());
    job.entries = read->entries;
    return job;
  }
  auto job = reports::summary_job(read->record, titles.names());
  job.findings = std::move(recorded.findings);
  job.entries = read->entries;
  return job;
}

}  // namespace

Result<std::vector<SummaryJob>> summary_jobs(Desk& desk, int64_t from_us, int64_t to_us) {
  struct Dated {
    int64_t opened_us;
    watch::JobView view;
  };
  std::vector<Dated> wanted;
  for (auto& view : desk.watch.jobs()) {
    const auto opened = parse_time_us(view.opened.time());
    if (opened && *opened >= from_us && *opened < to_us)
      wanted.push_back({*opened, std::move(view)});
  }
  std::ranges::stable_sort(wanted, {}, &Dated::opened_us);
  std::vector<SummaryJob> out(wanted.size());
  desk.progress->jobs += wanted.size();
  std::atomic<size_t> next = 0;
  std::mutex mutex;
  std::optional<Error> failed;
  const auto work = [&] {
    Titles titles(desk);
    for (size_t i = next++; i < wanted.size(); i = next++) {
      auto job = read_one(desk, wanted[i].view, titles);
      if (!job) {
        const std::lock_guard lock(mutex);
        if (!failed)
          failed =
              Error{job.error().code, "job " + wanted[i].view.name + ": " + job.error().message};
        next = wanted.size();
        return;
      }
      job->opened_us = wanted[i].opened_us;
      out[i] = std::move(*job);
      ++desk.progress->read;
    }
  };
  {
    const size_t threads = std::clamp<size_t>(
        std::min<size_t>(std::thread::hardware_concurrency(), wanted.size() / 50), 1, 16);
    std::vector<std::jthread> others;
    for (size_t i = 1; i < threads; ++i) others.emplace_back(work);
    work();
  }
  if (failed) return std::unexpected(*failed);
  return out;
}

}  // namespace fairlead::desk
