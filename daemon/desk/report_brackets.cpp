#include "daemon/desk/report_brackets.h"

#include <algorithm>
#include <map>
#include <tuple>

#include "daemon/record/packer.h"

namespace fairlead::desk {
namespace {

constexpr uint64_t kLatest_s = 253'402'300'799;  // End of 9999; a cosignature may say anything.

std::optional<int64_t> micros(std::optional<uint64_t> time_s) {
  if (!time_s || *time_s > kLatest_s) return std::nullopt;
  return static_cast<int64_t>(*time_s) * 1'000'000;
}

/// A line as lines are told apart: its source's own number and time.
using LineKey = std::tuple<std::string, uint32_t, std::string>;
LineKey key_of(const v1::Observation& line) { return {line.source(), line.seq(), line.time()}; }

class Brackets {
 public:
  explicit Brackets(const Desk& desk) : desk_(desk) {}

  reports::TimeBracket of(const ledger::StoredEntry& entry, const record::EntryHeader& header) {
    // Heads of an earlier generation prove nothing about this one.
    const uint64_t seen = header.ledger_id == desk_.office.ledger_id() ? header.seen_size : 0;
    const auto [it, fresh] = known_.try_emplace({seen, entry.leaf});
    if (fresh) {
      const auto bracket = desk_.countersigning->heads().bracket(seen, entry.leaf,
                                                                 desk_.countersigning->threshold());
      it->second = {micros(bracket.not_before_s), micros(bracket.not_after_s)};
    }
    return it->second;
  }

 private:
  const Desk& desk_;
  std::map<std::pair<uint64_t, uint64_t>, reports::TimeBracket> known_;
};

std::optional<reports::Countersignature> countersignature(const Desk& desk, uint64_t last_leaf) {
  const auto head = desk.countersigning->heads().first_covering(last_leaf);
  if (!head || head->cosignatures.size() < desk.countersigning->threshold()) return std::nullopt;
  reports::Countersignature out;
  out.head_size = head->size;
  for (const auto& one : head->cosignatures) {
    out.by += (out.by.empty() ? "" : ", ") + one.by;
    out.at_us = std::max(out.at_us, micros(one.at_s).value_or(0));
  }
  return out;
}

}  // namespace

Status add_brackets(const Desk& desk, const record::Id16& job, reports::JobRecord& out) {
  if (desk.countersigning == nullptr || !desk.countersigning->heads().newest()) return {};
  const auto entries = desk.ledger().job_entries(job);
  if (!entries) return std::unexpected(entries.error());
  Brackets brackets(desk);
  std::map<LineKey, reports::TimeBracket> by_line;
  reports::TimeBracket whole;
  bool first = true;
  for (const ledger::StoredEntry& entry : *entries) {
    const auto header = entry.header();
    if (record::is_base_kind(header.kind)) continue;
    const reports::TimeBracket bracket = brackets.of(entry, header);
    if (first) whole.not_before_us = bracket.not_before_us;
    whole.not_after_us = bracket.not_after_us;
    first = false;
    if (entry.body_state != ledger::BodyState::kHere || header.kind == record::Kind::kStrip)
      continue;
    const auto lines = record::observations_of(header.kind, entry.body);
    if (!lines) return std::unexpected(lines.error());
    for (const v1::Observation& line : *lines) by_line.emplace(key_of(line), bracket);
  }
  for (const v1::Observation& line : out.lines) {
    const auto found = by_line.find(key_of(line));
    out.brackets.push_back(found == by_line.end() ? reports::TimeBracket{} : found->second);
  }
  out.record.not_before_us = whole.not_before_us;
  out.record.not_after_us = whole.not_after_us;
  out.record.countersigned = countersignature(desk, out.record.last_leaf);
  return {};
}

Result<std::string> name_mailed_head(const Desk& desk, uint64_t size, reports::RecordFacts& facts) {
  if (desk.countersigning == nullptr) return std::string();
  const auto mailed = desk.countersigning->mailed_head(size);
  if (!mailed) return std::unexpected(mailed.error());
  if (!*mailed) return std::string();
  facts.head_size = (*mailed)->head.size;
  facts.head_root = hex_of((*mailed)->head.root);
  facts.head_at_us = (*mailed)->sent_us;
  return (*mailed)->head.note;
}

Status add_standing(const Desk& desk, reports::SummaryInput& input) {
  const auto marks = desk.ledger().watermarks();
  if (!marks) return std::unexpected(marks.error());
  for (const ledger::Watermark& mark : *marks) {
    const auto device = desk.devices.find(mark.device_id);
    input.standing.devices.push_back({device ? device->name : "base", hex_of(mark.device_id),
                                      mark.epoch, mark.seq, hex_of(mark.chain)});
  }
  for (const reports::SummaryJob& job : input.jobs)
    input.standing.jobs.push_back({job.job_id, job.entries});
  if (desk.countersigning == nullptr || !desk.countersigning->any()) return {};
  const auto asked = desk.countersigning->ask({});
  if (!asked) return std::unexpected(asked.error());
  input.standing.request = asked->body();
  input.standing.alarm = desk.countersigning->alarm();
  const auto newest = desk.countersigning->heads().newest();
  if (!newest) return {};
  auto note = watch::CosignedHeads::note_of(desk.ledger(), *newest);
  if (!note) return std::unexpected(note.error());
  input.standing.cosigned = std::move(*note);
  input.record.countersigned = countersignature(desk, newest->size - 1);
  return {};
}

}  // namespace fairlead::desk
