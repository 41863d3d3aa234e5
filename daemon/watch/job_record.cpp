#include "daemon/watch/job_record.h"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>
#include <optional>
#include <set>

#include "daemon/record/job_span.h"
#include "daemon/record/packer.h"
#include "daemon/watch/quarantine.h"

namespace fairlead::watch {
namespace {

// The opening may have been brought in again after the truck's disk was put back.
Status read_opening(const ledger::StoredEntry& entry, JobRecord& job) {
  v1::JobOpenBody open;
  v1::RecoveredBody recovered;
  const bool again = entry.header().kind == record::Kind::kRecovered;
  if (again && !recovered.ParseFromString(entry.body)) recovered.Clear();
  if (!open.ParseFromString(again ? recovered.body() : entry.body)) {
    return fail(Code::kCorrupt, fmt::format("leaf {}: the opening cannot be read", entry.leaf));
  }
  job.opened = open.observation();
  job.name = open.observation().job();
  job.pins.assign(open.pins().begin(), open.pins().end());
  return {};
}

record::JobSpan span_of(const ledger::JobRow& row,
                        const std::vector<ledger::StoredEntry>& entries) {
  record::JobSpan span;
  span.job_id = row.job_id;
  span.device_id = row.device_id;
  for (const ledger::StoredEntry& entry : entries) {
    const auto header = entry.header();
    if (entry.leaf == row.open_leaf) span.open = record::place_of(header);
    if (row.close_leaf && entry.leaf == *row.close_leaf) span.close = record::place_of(header);
  }
  return span;
}

// Entries whose bodies a device said are lost, with its disk or the base's, by place.
using Lost = std::set<record::ChainPlace>;
Result<Lost> lost_bodies(const ledger::Ledger& ledger, const record::Id16& device) {
  constexpr size_t kPage = 1'000;
  Lost lost;
  for (uint64_t from = 0;;) {
    const auto page = ledger.entries_of_kind(record::Kind::kGap, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) {
      v1::GapBody body;
      if (entry.header().device_id != device || !body.ParseFromString(entry.body)) continue;
      for (int i = 0; i < std::min(body.lost_body_epoch_size(), body.lost_body_seq_size()); ++i)
        lost.insert({body.lost_body_epoch(i), body.lost_body_seq(i)});
    }
    if (page->size() < kPage) return lost;
    from = page->back().leaf + 1;
  }
}

}  // namespace

Result<JobRecord> read_job(const ledger::Ledger& ledger, const record::Id16& job) {
  const auto row = ledger.job(job);
  if (!row) return std::unexpected(row.error());
  const auto entries = ledger.job_entries(job);
  if (!entries) return std::unexpected(entries.error());
  const auto quarantine = Quarantine::read(ledger);
  if (!quarantine) return std::unexpected(quarantine.error());
  JobRecord out;
  out.row = *row;
  const record::JobSpan span = span_of(*row, *entries);
  std::optional<Lost> lost;  // Looked up once something is missing of an epoch that has ended.
  for (const ledger::StoredEntry& entry : *entries) {
    const auto header = entry.header();
    if (record::is_base_kind(header.kind)) continue;
    out.entries += header.job_id == job;
    if (header.kind == record::Kind::kClock && header.device_id == span.device_id) {
      v1::ClockBody step;
      if (step.ParseFromString(entry.body))
        out.clock_steps.push_back({entry.leaf, step.expected_wall_us(), step.wall_us()});
    }
    const bool judged = record::is_judged_in(header, span);
    if (!judged && !record::is_foreign_to(header, span)) continue;
    const bool trusted = !quarantine->holds(header);
    if (entry.body_state != ledger::BodyState::kHere) {
      const auto mark = ledger.watermark(header.device_id);
      const bool may_be_lost =
          entry.body_state == ledger::BodyState::kErased || (mark && header.epoch < mark->epoch);
      if (!lost && may_be_lost) {
        auto found = lost_bodies(ledger, header.device_id);
        if (!found) return std::unexpected(found.error());
        lost = std::move(*found);
      }
      if (lost && header.device_id == row->device_id && lost->contains(record::place_of(header))) {
        ++out.bodies_lost;
        continue;
      }
    }
    if (entry.body_state != ledger::BodyState::kHere) {
      if (!trusted) continue;
      ++(entry.body_state == ledger::BodyState::kErased ? out.bodies_erased : out.bodies_missing);
      continue;
    }
    if (entry.leaf == row->open_leaf) {
      if (auto ok = read_opening(entry, out); !ok) return std::unexpected(ok.error());
    }
    auto lines = record::observations_of(header.kind, entry.body);
    if (!lines)
      return fail(Code::kCorrupt, fmt::format("leaf {}: {}", entry.leaf, lines.error().message));
    if (header.kind == record::Kind::kRecovered) {
      out.recovered += lines->size();
      v1::RecoveredBody inner;
      if (inner.ParseFromString(entry.body) && inner.salt().empty()) ++out.bodies_lost;
    }
    auto& into = !trusted ? out.quarantined : judged ? out.lines : out.foreign;
    std::ranges::move(*lines, std::back_inserter(into));
  }
  return out;
}

Result<judge::Rulebook> rules_of(const ledger::Ledger& ledger, const std::vector<v1::Pin>& pins) {
  std::vector<judge::SourceFile> procedures, register_files;
  for (const v1::Pin& pin : pins) {
    if (pin.kind() == v1::FileKind::POLICY) continue;
    const auto sha = array_of<32>(pin.sha256(), "pin");
    if (!sha) return std::unexpected(sha.error());
    auto bytes = ledger.file(*sha);
    if (!bytes) return fail_at("file " + pin.name() + ": ", bytes.error());
    auto& group = pin.kind() == v1::FileKind::PROCEDURE ? procedures : register_files;
    group.push_back({pin.name(), std::move(*bytes)});
  }
  return judge::Rulebook::load(procedures, register_files);
}

const v1::Observation* closing_line(const JobRecord& job) {
  const v1::Observation* last = nullptr;
  for (const v1::Observation& line : job.lines) {
    if (line.job() != job.name) continue;
    if (line.has_closed() || line.has_abandoned()) last = &line;
    if (line.has_reopened()) last = nullptr;
  }
  return last;
}

}  // namespace fairlead::watch
