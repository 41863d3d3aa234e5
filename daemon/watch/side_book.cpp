#include "daemon/watch/side_book.h"

#include <algorithm>

#include "daemon/record/commitment.h"
#include "fairlead/v1/record.pb.h"
#include "fairlead/v1/watch_state.pb.h"

namespace fairlead::watch {
namespace {

constexpr const char* kName = "watch/side book";
constexpr uint64_t kKeepEvery = 4'096;

Result<std::vector<ledger::JobRow>> all_jobs(const ledger::Ledger& ledger) {
  constexpr size_t kPage = 1'000;
  std::vector<ledger::JobRow> rows;
  for (uint64_t from = 0;;) {
    const auto page = ledger.jobs(from, kPage);
    if (!page) return std::unexpected(page.error());
    rows.insert(rows.end(), page->begin(), page->end());
    if (page->size() < kPage) return rows;
    from = page->back().open_leaf + 1;
  }
}

}  // namespace

bool is_inside_a_job(const std::vector<ledger::JobRow>& jobs, const record::Id16& device,
                     uint64_t leaf) {
  return std::ranges::any_of(jobs, [&](const ledger::JobRow& row) {
    return row.device_id == device && row.open_leaf <= leaf &&
           (!row.close_leaf || leaf <= *row.close_leaf);
  });
}

Status SideBook::load() {
  v1::SideBookState state;
  const auto kept = ledger_.value(kName);
  // Kept by another ledger's size, or not readable: worked out anew.
  if (kept && state.ParseFromString(*kept) && state.next_leaf() <= ledger_.size()) {
    const std::lock_guard lock(mutex_);
    for (const auto& stretch : state.stretch()) {
      const auto device = array_of<16>(stretch.device_id(), "device");
      if (!device) continue;
      found_[*device].push_back({stretch.leaf(),
                                 {static_cast<Sensed>(stretch.what()), stretch.from_us(),
                                  stretch.to_us(), stretch.most()}});
    }
    for (const auto& card : state.card()) {
      if (const auto job = array_of<16>(card.job_id(), "job")) cards_[card.card()].insert(*job);
    }
    next_leaf_ = kept_leaf_ = state.next_leaf();
  }
  const auto rows = all_jobs(ledger_);
  if (!rows) return std::unexpected(rows.error());
  for (const ledger::JobRow& row : *rows) {
    if (row.open_leaf < next_leaf_ && (!row.close_leaf || *row.close_leaf >= next_leaf_))
      open_[row.device_id].insert(row.job_id);
  }
  const uint64_t size = ledger_.size();
  return size == 0 ? Status{} : read_on(size - 1);
}

void SideBook::add_leaves(uint64_t last) {
  // What cannot be read now is read with the next leaves.
  if (!read_on(last)) return;
  if (next_leaf_ - kept_leaf_ >= kKeepEvery) (void)keep();
}

Status SideBook::read_on(uint64_t last) {
  constexpr size_t kPage = 256;
  while (next_leaf_ <= last) {
    const auto page = ledger_.entries(
        next_leaf_, static_cast<size_t>(std::min<uint64_t>(kPage, last - next_leaf_ + 1)), false);
    if (!page) return std::unexpected(page.error());
    if (page->empty()) return {};
    for (const ledger::StoredEntry& entry : *page) take(entry);
    next_leaf_ = page->back().leaf + 1;
  }
  return {};
}

void SideBook::take(const ledger::StoredEntry& entry) {
  const auto header = entry.header();
  auto& open = open_[header.device_id];
  if (header.kind == record::Kind::kJobOpen) open.insert(header.job_id);
  if (header.kind == record::Kind::kJobClose) open.erase(header.job_id);
  if (header.kind == record::Kind::kObservations && !is_zero(header.job_id)) take_cards(entry);
  const bool strips =
      header.kind == record::Kind::kStrip || header.kind == record::Kind::kRecovered;
  if (!strips || !is_zero(header.job_id) || !open.empty()) return;
  if (entry.body_state != ledger::BodyState::kHere) return;
  if (const auto whole = ledger_.entry(entry.leaf)) add_body(*whole);
}

void SideBook::take_cards(const ledger::StoredEntry& entry) {
  const auto whole = ledger_.entry(entry.leaf);
  v1::ObservationsBody body;
  if (!whole || !body.ParseFromString(whole->body)) return;
  const std::lock_guard lock(mutex_);
  for (const v1::Observation& line : body.observation()) {
    if (line.has_identified() && !line.identified().card().empty())
      cards_[line.identified().card()].insert(entry.header().job_id);
  }
}

void SideBook::add_body(const ledger::StoredEntry& entry) {
  const auto header = entry.header();
  if (header.kind == record::Kind::kStrip) {
    take_strip(header.device_id, entry.leaf, entry.body);
    return;
  }
  v1::RecoveredBody old;
  if (header.kind != record::Kind::kRecovered || !old.ParseFromString(entry.body)) return;
  const auto inner = record::decode_header(old.entry());
  if (inner && inner->kind == record::Kind::kStrip && is_zero(inner->job_id))
    take_strip(header.device_id, entry.leaf, old.body());
}

void SideBook::take_strip(const record::Id16& device, uint64_t leaf, std::string_view body) {
  const auto lanes = record::strip_lanes(body);
  if (!lanes) return;
  const auto stretches = sensors_[device].take(*lanes);
  const std::lock_guard lock(mutex_);
  for (const SensedStretch& stretch : stretches) found_[device].push_back({leaf, stretch});
}

Status SideBook::keep() {
  v1::SideBookState state;
  state.set_next_leaf(next_leaf_);
  {
    const std::lock_guard lock(mutex_);
    for (const auto& [device, found] : found_) {
      for (const Found& one : found) {
        auto& out = *state.add_stretch();
        out.set_device_id(string_of(device));
        out.set_leaf(one.leaf);
        out.set_what(static_cast<uint32_t>(one.stretch.what));
        out.set_from_us(one.stretch.from_us);
        out.set_to_us(one.stretch.to_us);
        out.set_most(one.stretch.most);
      }
    }
  }
  {
    const std::lock_guard lock(mutex_);
    for (const auto& [card, jobs] : cards_) {
      for (const record::Id16& job : jobs) {
        auto& out = *state.add_card();
        out.set_card(card);
        out.set_job_id(string_of(job));
      }
    }
  }
  if (auto ok = ledger_.put_value(kName, state.SerializeAsString()); !ok) return ok;
  kept_leaf_ = next_leaf_;
  return {};
}

Result<std::vector<UnjobbedWork>> SideBook::works(int64_t from_us, int64_t to_us) const {
  const auto rows = all_jobs(ledger_);
  if (!rows) return std::unexpected(rows.error());
  std::vector<UnjobbedWork> out;
  const std::lock_guard lock(mutex_);
  for (const auto& [device, found] : found_) {
    std::vector<SensedStretch> stretches;
    std::vector<Found> outside;
    for (const Found& one : found) {
      if (is_inside_a_job(*rows, device, one.leaf)) continue;
      outside.push_back(one);
      stretches.push_back(one.stretch);
    }
    for (auto& piece : pieces_of_work(std::move(stretches))) {
      UnjobbedWork work;
      work.device = device;
      work.from_us = piece.front().from_us;
      work.to_us = piece.front().to_us;
      for (const SensedStretch& one : piece) work.to_us = std::max(work.to_us, one.to_us);
      if (work.from_us < from_us || work.from_us >= to_us) continue;
      work.first_leaf = UINT64_MAX;
      for (const Found& one : outside) {
        if (one.stretch.to_us < work.from_us || one.stretch.from_us > work.to_us) continue;
        work.first_leaf = std::min(work.first_leaf, one.leaf);
        work.last_leaf = std::max(work.last_leaf, one.leaf);
      }
      work.sensed = std::move(piece);
      out.push_back(std::move(work));
    }
  }
  std::ranges::stable_sort(out, {}, &UnjobbedWork::from_us);
  return out;
}

std::vector<record::Id16> SideBook::same_card(const record::Id16& job) const {
  std::set<record::Id16> out;
  const std::lock_guard lock(mutex_);
  for (const auto& [card, jobs] : cards_) {
    if (jobs.contains(job)) out.insert(jobs.begin(), jobs.end());
  }
  out.erase(job);
  return {out.begin(), out.end()};
}

}  // namespace fairlead::watch
