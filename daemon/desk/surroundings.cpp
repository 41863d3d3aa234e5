#include "daemon/desk/surroundings.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/base/time_text.h"
#include "daemon/desk/register.h"
#include "daemon/desk/unjobbed.h"

namespace fairlead::desk {
namespace {

constexpr int64_t kHour = 3'600'000'000;
constexpr int64_t kAround = 2 * kHour;
constexpr uint64_t kMostAround = 100'000;  // Entries looked at on either side.

// The version that the job can have used: the last put on record before it opened, else the first.
std::optional<watch::ShelfFile> version_before(const std::vector<watch::ShelfFile>& versions,
                                               const reports::FileInForce& file,
                                               uint64_t open_leaf) {
  std::optional<watch::ShelfFile> out;
  for (const watch::ShelfFile& version : versions) {
    if (hex_of(version.pin.sha256()) != file.sha256) continue;
    if (!out || version.leaf < open_leaf) out = version;
  }
  return out;
}

std::string job_words(const watch::JobView& view) {
  return fmt::format("{}, opened {} UTC: {} met, {} deviated, {} unproven{}", view.name,
                     view.opened.time().substr(0, 16), view.met, view.deviated, view.unproven,
                     view.closed ? "" : ", still open");
}

void add_jobs(const Desk& desk, const watch::JobRecord& job, int64_t from_us, int64_t to_us,
              reports::RecordFacts& facts) {
  for (const auto& view : desk.watch.jobs()) {
    const auto at = parse_time_us(view.opened.time());
    const bool same = view.row.device_id == job.row.device_id &&
                      view.opened.opened().truck() == job.opened.opened().truck();
    if (view.job == job.row.job_id || !at || !same) continue;
    if (*at >= from_us && *at <= to_us) facts.neighbours.push_back(job_words(view));
  }
  for (const record::Id16& other : desk.watch.same_card(job.row.job_id)) {
    if (const auto view = desk.watch.job(other)) facts.same_card.push_back(job_words(*view));
  }
}

Status add_sensed(const Desk& desk, const watch::JobRecord& job, int64_t from_us, int64_t to_us,
                  reports::RecordFacts& facts) {
  const auto works = desk.watch.unjobbed(from_us, to_us);
  if (!works) return std::unexpected(works.error());
  for (const watch::UnjobbedWork& work : *works) {
    if (work.device != job.row.device_id) continue;
    facts.sensed.push_back(fmt::format("{} to {} UTC: {}",
                                       format_time_us(work.from_us).substr(0, 19),
                                       format_time_us(work.to_us).substr(11, 8), work_words(work)));
  }
  return {};
}

struct Around {
  uint64_t all = 0, own = 0, no_job = 0;
};

// Entries of the truck's chain by its own clock, from 2 h before the opening to 2 h after the
// close.
Result<Around> count_around(const Desk& desk, const watch::JobRecord& job) {
  constexpr size_t kPage = 256;
  const auto first = desk.ledger().entry(job.row.open_leaf);
  if (!first) return std::unexpected(first.error());
  const auto last = desk.ledger().entry(job.row.close_leaf.value_or(job.row.open_leaf));
  if (!last) return std::unexpected(last.error());
  const auto open = first->header(), close = last->header();
  const int64_t from_us = open.wall_us - kAround, to_us = close.wall_us + kAround;
  uint64_t seq = open.seq;
  // Back, a page at a time, to the first entry that may lie in the span.
  while (seq > 1 && open.seq - seq < kMostAround) {
    const uint64_t page_from = seq > kPage ? seq - kPage : 1;
    const auto one = desk.ledger().device_entries(open.device_id, open.epoch, page_from, 1, false);
    if (!one) return std::unexpected(one.error());
    seq = page_from;
    if (one->empty() || one->front().header().wall_us < from_us) break;
  }
  Around out;
  for (uint64_t looked = 0; looked < 2 * kMostAround; looked += kPage) {
    const auto page = desk.ledger().device_entries(open.device_id, open.epoch, seq, kPage, false);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) {
      const auto header = entry.header();
      if (header.wall_us < from_us || header.wall_us > to_us) continue;
      ++out.all;
      out.own += header.job_id == job.row.job_id;
      out.no_job += is_zero(header.job_id);
    }
    if (page->size() < kPage || page->back().header().wall_us > to_us) break;
    seq = page->back().header().seq + 1;
  }
  return out;
}

}  // namespace

Status add_origins(const Desk& desk, const watch::JobRecord& job, reports::JobRecord& out) {
  const auto uses = truck_uses(desk);
  if (!uses) return std::unexpected(uses.error());
  for (size_t i = 0; i < out.files.size() && i < job.pins.size(); ++i) {
    reports::FileInForce& file = out.files[i];
    const v1::Pin& pin = job.pins[i];
    const auto version = version_before(desk.shelf.versions(pin.name()), file, job.row.open_leaf);
    if (version) {
      file.since_us = version->since_us;
      file.leaf = version->leaf;
      file.by = file_message(desk, *version).by();
    }
    for (const TruckUse& use : *uses) {
      if (use.device != job.row.device_id || use.file.sha256() != pin.sha256()) continue;
      if (use.leaf >= job.row.open_leaf) continue;
      file.truck_since_us = use.wall_us;
      file.truck_leaf = use.leaf;
    }
  }
  return {};
}

Status add_surroundings(const Desk& desk, const watch::JobRecord& job, reports::JobRecord& out) {
  const auto opened = parse_time_us(job.opened.time());
  const auto* end_line = watch::closing_line(job);
  const auto closed = end_line ? parse_time_us(end_line->time()) : opened;
  if (!opened || !closed) return {};
  add_jobs(desk, job, *opened - kAround, *closed + kAround, out.record);
  if (auto ok = add_sensed(desk, job, *opened - kAround, *closed + kAround, out.record); !ok)
    return ok;
  const auto around = count_around(desk, job);
  if (!around) return std::unexpected(around.error());
  const auto device = desk.devices.find(job.row.device_id);
  const bool imported = device && device->kind == v1::EnrolBody::IMPORT;
  out.record.around = fmt::format(
      "{} made {} entries in that time by its own clock: {} under this job, {} under another, {} "
      "under none (readings and signs of life count for every open job).",
      imported ? "The import device" : "The truck", around->all, around->own,
      around->all - around->own - around->no_job, around->no_job);
  return {};
}

}  // namespace fairlead::desk
