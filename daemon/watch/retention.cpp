#include "daemon/watch/retention.h"

#include <fmt/format.h>

#include <chrono>
#include <limits>
#include <map>
#include <set>

#include "daemon/ledger/names.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::watch {
namespace {

using ledger::BodyState;
using ledger::StoredEntry;
using record::Kind;

constexpr size_t kPage = 1'000;

struct Job {
  record::Id16 id{};
  uint64_t first = 0, last = std::numeric_limits<uint64_t>::max();
  bool over = false;  // Closed longer ago than the policy keeps it.
};

template <typename Take>
Status each_entry(const ledger::Ledger& ledger, bool bodies, Take take) {
  for (uint64_t from = 0;;) {
    const auto page = ledger.entries(from, kPage, bodies);
    if (!page) return std::unexpected(page.error());
    for (const StoredEntry& entry : *page) take(entry);
    if (page->size() < kPage) return {};
    from = page->back().leaf + 1;
  }
}

class Finder {
 public:
  Finder(const ledger::Ledger& ledger, const RetentionConfig& policy, int64_t now_us)
      : ledger_(ledger),
        job_before_us_(months_before(now_us, policy.job_months)),
        loose_before_us_(months_before(now_us, policy.loose_strip_months)),
        job_policy_(fmt::format("retention {} months", policy.job_months)),
        loose_policy_(
            fmt::format("retention {} months, samples outside jobs", policy.loose_strip_months)) {}

  Result<std::vector<DueGroup>> find() {
    if (auto ok = load_jobs(); !ok) return std::unexpected(ok.error());
    if (auto ok = each_entry(ledger_, false, [this](const auto& entry) { look_at(entry); }); !ok)
      return std::unexpected(ok.error());
    if (auto ok = keep_named_cards(); !ok) return std::unexpected(ok.error());
    std::vector<DueGroup> out;
    for (auto& [what, group] : groups_) out.push_back(std::move(group));
    return out;
  }

 private:
  Status load_jobs() {
    for (uint64_t from = 0;;) {
      const auto page = ledger_.jobs(from, kPage);
      if (!page) return std::unexpected(page.error());
      for (const ledger::JobRow& row : *page) {
        Job job{row.job_id, row.open_leaf};
        if (row.close_leaf) {
          const auto close = ledger_.entry(*row.close_leaf);
          if (!close) return std::unexpected(close.error());
          job.last = *row.close_leaf;
          job.over = close->recv_us < job_before_us_;
        }
        by_device_[row.device_id].push_back(job);
        over_[row.job_id] = job.over;
      }
      if (page->size() < kPage) return {};
      from = page->back().open_leaf + 1;
    }
  }

  void look_at(const StoredEntry& entry) {
    if (entry.body_state == BodyState::kErased) return;
    const auto header = entry.header();
    switch (header.kind) {
      case Kind::kStrip:
      case Kind::kObservations:
      case Kind::kRecovered:
        return look_at_lines(entry, header);
      case Kind::kCard:
        if (entry.recv_us < job_before_us_) cards_.insert(entry.leaf);
        return;
      default:
        return;
    }
  }

  void look_at_lines(const StoredEntry& entry, const record::EntryHeader& header) {
    const Job* within = nullptr;
    for (const Job& job : by_device_[header.device_id]) {
      if (entry.leaf < job.first || entry.leaf > job.last) continue;
      if (!job.over) return;
      within = &job;
    }
    record::Id16 id = header.job_id;
    if (is_zero(id) && within != nullptr) id = within->id;
    if (const auto known = over_.find(id); known != over_.end()) {
      if (known->second) add("job " + hex_of(id), job_policy_, entry.leaf);
    } else if (header.kind == Kind::kStrip) {
      if (entry.recv_us < loose_before_us_)
        add("samples outside any job", loose_policy_, entry.leaf);
    } else if (entry.recv_us < job_before_us_) {
      add("lines outside any job", job_policy_, entry.leaf);
    }
  }

  void add(const std::string& what, const std::string& policy, uint64_t leaf) {
    DueGroup& group = groups_[what];
    group.what = what;
    group.policy = policy;
    group.leaves.push_back(leaf);
  }

  // A card goes with the last job that names it. Openings and closings of jobs that are over stay,
  // but keep no card.
  Status keep_named_cards() {
    if (cards_.empty()) return {};
    std::set<std::string> named;
    std::map<uint64_t, std::string> ids;
    const auto read = each_entry(ledger_, true, [&](const StoredEntry& entry) {
      const auto header = entry.header();
      if (entry.body_state != BodyState::kHere || header.kind == Kind::kStrip) return;
      if (header.kind == Kind::kCard) {
        v1::CardBody card;
        if (cards_.contains(entry.leaf) && card.ParseFromString(entry.body))
          ids[entry.leaf] = hex_of(card.card_id());
        return;
      }
      const auto known = over_.find(header.job_id);
      if (known != over_.end() && known->second) return;
      for (std::string& card : ledger::cards_in(entry.body)) named.insert(std::move(card));
      v1::ClaimBody claim;
      if (header.kind == Kind::kClaim && claim.ParseFromString(entry.body))
        named.insert(hex_of(claim.claimant_card()));
    });
    if (!read) return read;
    for (const auto& [leaf, id] : ids) {
      if (!named.contains(id)) add("cards", job_policy_, leaf);
    }
    return {};
  }

  const ledger::Ledger& ledger_;
  const int64_t job_before_us_, loose_before_us_;
  const std::string job_policy_, loose_policy_;
  std::map<record::Id16, std::vector<Job>> by_device_;
  std::map<record::Id16, bool> over_;
  std::set<uint64_t> cards_;
  std::map<std::string, DueGroup> groups_;
};

}  // namespace

int64_t months_before(int64_t time_us, int64_t months) {
  namespace chrono = std::chrono;
  const chrono::sys_time<chrono::microseconds> time{chrono::microseconds(time_us)};
  const auto day = chrono::floor<chrono::days>(time);
  chrono::year_month_day date =
      chrono::year_month_day{day} - chrono::months{static_cast<int>(months)};
  if (!date.ok()) date = date.year() / date.month() / chrono::last;
  const chrono::sys_time<chrono::microseconds> then = chrono::sys_days{date} + (time - day);
  return then.time_since_epoch().count();
}

Result<std::vector<DueGroup>> find_due(const ledger::Ledger& ledger, const RetentionConfig& policy,
                                       int64_t now_us) {
  return Finder(ledger, policy, now_us).find();
}

Result<ErasureReport> carry_out(Office& office, const std::vector<DueGroup>& groups,
                                const std::string& words, bool dry_run) {
  ErasureReport report;
  for (const DueGroup& group : groups) {
    const auto erased = office.erase(group.leaves, group.policy, words, dry_run);
    if (!erased) return std::unexpected(erased.error());
    ErasureGroup going{group.what, group.policy, 0, 0};
    std::map<std::string, ErasureGroup> held;
    const auto count = [&](ErasureGroup& into, uint64_t leaf) {
      ++into.entries;
      if (const auto entry = office.ledger().entries(leaf, 1, false); entry && !entry->empty())
        into.bytes += entry->front().header().body_len;
    };
    for (const ledger::EraseResult& result : *erased) {
      for (const uint64_t leaf : result.leaves) count(going, leaf);
      for (const auto& kept : result.kept) {
        ErasureGroup& into = held[kept.why];
        into.what = group.what;
        into.why = kept.why;
        count(into, kept.leaf);
      }
      report.leaves.insert(report.leaves.end(), result.leaves.begin(), result.leaves.end());
      report.attachments += result.attachments.size();
      report.attachments_shared += result.attachments_shared;
      if (result.entry) report.erase_leaves.push_back(*result.entry);
      report.wiped = result.wiped;
    }
    if (going.entries > 0) report.going.push_back(std::move(going));
    for (auto& [why, group_held] : held) report.held.push_back(std::move(group_held));
  }
  return report;
}

}  // namespace fairlead::watch
