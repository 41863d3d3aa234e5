#include "daemon/watch/numbering.h"

#include <algorithm>

#include "daemon/record/observation_json.h"
#include "daemon/record/packer.h"
#include "daemon/record/strip.h"
#include "daemon/watch/job_id.h"

namespace fairlead::watch {
namespace {

constexpr size_t kPage = 256;

std::string value_name(const record::Id16& device) { return "numbering/" + hex_of(device); }

// Content as it will come back from the record: samples and fixes in their resolution.
uint64_t digest_of(const v1::Observation& line) {
  const bool strip = line.has_sample() || line.has_fix();
  const Hash hash = sha256(record::observation_to_line(strip ? record::quantised(line) : line));
  return get_be<uint64_t>(hash.data());
}

}  // namespace

Status Numbering::load() {
  const auto mark = ledger_.watermark(device_);
  if (!mark) return std::unexpected(mark.error());
  epoch_ = mark->epoch;
  const auto open = ledger_.open_jobs(device_);
  if (!open) return std::unexpected(open.error());
  for (const ledger::JobRow& row : *open) open_.insert(row.job_id);
  v1::NumberingState state;
  uint64_t from = 1;
  const auto kept = ledger_.value(value_name(device_));
  if (kept && state.ParseFromString(*kept) && state.epoch() <= epoch_) {
    for (const auto& source : state.source()) sources_[{"", source.source()}].last = source.last();
    if (state.epoch() == epoch_) {
      from = state.through_seq() + 1;
      stray_.insert(state.stray().begin(), state.stray().end());
    }
  } else {
    for (uint32_t epoch = 1; epoch < epoch_; ++epoch) {
      if (auto ok = read_on(epoch, 1); !ok) return ok;
    }
  }
  return read_on(epoch_, from);
}

Status Numbering::read_on(uint32_t epoch, uint64_t from_seq) {
  for (;;) {
    const auto page = ledger_.device_entries(device_, epoch, from_seq, kPage, true);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) count_in(entry);
    if (page->size() < kPage) return {};
    from_seq = page->back().header().seq + 1;
  }
}

// Numbers of sources without a job, and strips that hold lines of jobs: by their columns, which is
// cheaper than a message a line.
void Numbering::count_in(const ledger::StoredEntry& entry) {
  const auto header = entry.header();
  if (entry.body_state != ledger::BodyState::kHere) return;
  const auto count = [&](const std::string& source, uint32_t seq) {
    uint32_t& last = sources_[{"", source}].last;
    last = std::max(last, seq);
  };
  if (header.kind == record::Kind::kStrip) {
    const auto lanes = record::strip_lanes(entry.body);
    if (!lanes) return;
    for (const record::StripLane& lane : *lanes) {
      if (!lane.job.empty() && !is_inside(lane.job, entry.leaf)) stray_.insert(header.seq);
      if (!lane.job.empty() || lane.seq.empty()) continue;
      count(lane.source, static_cast<uint32_t>(*std::ranges::max_element(lane.seq)));
    }
    return;
  }
  if (!is_zero(header.job_id) && !ledger_.job(header.job_id)) stray_.insert(header.seq);
  const auto lines = record::observations_of(header.kind, entry.body);
  if (!lines) return;
  for (const v1::Observation& line : *lines) {
    if (line.job().empty()) count(line.source(), line.seq());
  }
}

bool Numbering::is_inside(const std::string& job, uint64_t leaf) const {
  const auto row = ledger_.job(job_id_of(job));
  return row && row->device_id == device_ && row->open_leaf <= leaf &&
         (!row->close_leaf || leaf <= *row->close_leaf);
}

Status Numbering::know(const std::string& job) {
  if (known_.contains(job)) return {};
  if (auto ok = read_chain(job); !ok) return ok;
  known_.insert(job);
  return {};
}

Status Numbering::read_chain(const std::string& job) {
  if (job.empty()) {
    for (uint32_t epoch = 1; epoch <= epoch_; ++epoch) {
      for (uint64_t from = 1;;) {
        const auto page = ledger_.device_entries(device_, epoch, from, kPage, true);
        if (!page) return std::unexpected(page.error());
        for (const ledger::StoredEntry& entry : *page) {
          if (auto ok = read_lines(entry, job); !ok) return ok;
        }
        if (page->size() < kPage) break;
        from = page->back().header().seq + 1;
      }
    }
    return {};
  }
  const auto entries = ledger_.job_entries(job_id_of(job));
  // Nothing under its id, or no opening: what there is of it was noted as stray.
  for (const ledger::StoredEntry& entry : entries ? *entries : std::vector<ledger::StoredEntry>{}) {
    if (entry.header().device_id != device_) continue;
    if (auto ok = read_lines(entry, job); !ok) return ok;
  }
  for (const uint64_t seq : stray_) {
    const auto one = ledger_.device_entries(device_, epoch_, seq, 1, true);
    if (!one) return std::unexpected(one.error());
    for (const ledger::StoredEntry& entry : *one) {
      if (auto ok = read_lines(entry, job); !ok) return ok;
    }
  }
  return {};
}

Status Numbering::read_lines(const ledger::StoredEntry& entry, const std::string& job) {
  if (entry.body_state != ledger::BodyState::kHere) return {};
  const auto header = entry.header();
  const auto lines = record::observations_of(header.kind, entry.body);
  if (!lines) return fail_at("own entry " + std::to_string(header.seq) + ": ", lines.error());
  for (const v1::Observation& line : *lines) {
    if (line.job() == job) (void)notice(line);
  }
  return {};
}

bool Numbering::notice(const v1::Observation& line) {
  Source& source = source_of(line);
  const uint64_t digest = digest_of(line);
  const auto [it, fresh] = source.seen.try_emplace(line.seq(), digest);
  source.last = std::max(source.last, line.seq());
  return fresh || it->second != digest;
}

void Numbering::forget(const v1::Observation& line) {
  auto& seen = source_of(line).seen;
  // Of two lines with one number the first may be on record: that one stays known.
  if (const auto it = seen.find(line.seq()); it != seen.end() && it->second == digest_of(line))
    seen.erase(it);
}

void Numbering::number(v1::Observation& line) {
  Source& source = source_of(line);
  line.set_seq(++source.last);
  // Samples without a job come for years: they are never fed again, so nothing of them is kept.
  if (known_.contains(line.job())) source.seen[line.seq()] = digest_of(line);
}

bool Numbering::is_stray(const v1::Observation& line) const {
  if (line.job().empty() || line.has_opened()) return false;
  const record::Id16 job = job_id_of(line.job());
  if (open_.contains(job)) return false;
  return line.has_sample() || line.has_fix() || (!opened_.contains(job) && !ledger_.job(job));
}

void Numbering::follow(const v1::Observation& line) {
  if (line.has_opened()) {
    open_.insert(job_id_of(line.job()));
    opened_.insert(job_id_of(line.job()));
  }
  if (line.has_closed() || line.has_abandoned()) open_.erase(job_id_of(line.job()));
}

std::vector<std::string> Numbering::sources_without_job() const {
  std::vector<std::string> out;
  for (const auto& [key, source] : sources_) {
    if (key.first.empty()) out.push_back(key.second);
  }
  return out;
}

v1::NumberingState Numbering::numbers() const {
  v1::NumberingState state;
  state.set_epoch(epoch_);
  for (const auto& [key, source] : sources_) {
    if (!key.first.empty()) continue;
    auto& out = *state.add_source();
    out.set_source(key.second);
    out.set_last(source.last);
  }
  return state;
}

Status Numbering::keep(v1::NumberingState numbers, uint64_t through_seq) {
  numbers.set_through_seq(through_seq);
  for (const uint64_t seq : stray_) numbers.add_stray(seq);
  return ledger_.put_value(value_name(device_), numbers.SerializeAsString());
}

}  // namespace fairlead::watch
