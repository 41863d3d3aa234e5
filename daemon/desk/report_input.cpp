#include "daemon/desk/report_input.h"

#include <fmt/format.h>

#include "daemon/base/time_text.h"
#include "daemon/desk/calendar.h"
#include "daemon/desk/cards.h"
#include "daemon/desk/orders.h"
#include "daemon/desk/recorded_findings.h"
#include "daemon/desk/report_brackets.h"
#include "daemon/desk/surroundings.h"
#include "daemon/judge/text_file.h"
#include "daemon/record/job_span.h"
#include "daemon/watch/job_record.h"
#include "daemon/watch/stamp.h"
#include "fairlead/v1/procedure.pb.h"

namespace fairlead::desk {
namespace {

constexpr const char* kProgram = "fairlead 0.1.0";

const char* kind_word(v1::FileKind::Word kind) {
  switch (kind) {
    case v1::FileKind::PROCEDURE:
      return "procedure";
    case v1::FileKind::VEHICLE:
      return "vehicle file";
    case v1::FileKind::GEAR:
      return "gear file";
    case v1::FileKind::TRUCK:
      return "truck file";
    case v1::FileKind::SENSOR:
      return "sensor file";
    default:
      return "file";
  }
}

Status add_files(const Desk& desk, const std::vector<v1::Pin>& pins, reports::JobRecord& out) {
  for (const v1::Pin& pin : pins) {
    const auto sha = array_of<32>(pin.sha256(), "pin");
    if (!sha) return std::unexpected(sha.error());
    const auto bytes = desk.ledger().file(*sha);
    if (!bytes) return fail_at("file " + pin.name() + ": ", bytes.error());
    reports::FileInForce file;
    file.kind = kind_word(pin.kind());
    file.id = pin.name();
    file.sha256 = hex_of(*sha);
    Status read;
    if (pin.kind() == v1::FileKind::PROCEDURE) {
      v1::Procedure procedure;
      read = judge::parse_text_file({pin.name(), *bytes}, procedure);
      file.id = procedure.id();
      file.version = procedure.version();
    } else if (pin.kind() != v1::FileKind::POLICY) {
      v1::Register more;
      read = judge::parse_text_file({pin.name(), *bytes}, more);
      out.register_files.MergeFrom(more);
    }
    if (!read) return read;
    out.files.push_back(std::move(file));
  }
  return {};
}

void add_pictures(const Desk& desk, reports::JobRecord& out) {
  for (const auto& line : out.lines) {
    const std::string& hex = line.has_photo() ? line.photo().sha256() : line.film().sha256();
    const auto sha = array_of_hex<32>(hex, "sha256");
    if (hex.empty() || !sha) continue;
    if (!desk.ledger().has_attachment(*sha)) {
      ++out.record.attachments_missing;
    } else if (line.has_photo()) {
      if (auto bytes = desk.ledger().attachment(*sha)) {
        out.attachments[hex] = {line.photo().media_type(), std::move(*bytes)};
      }
    }
  }
}

// The job's own entries and what its truck recorded meanwhile; not what the base wrote about it.
Status count_entries(const Desk& desk, const watch::JobRecord& job, reports::RecordFacts& facts) {
  const auto entries = desk.ledger().job_entries(job.row.job_id);
  if (!entries) return std::unexpected(entries.error());
  record::JobSpan span;
  span.job_id = job.row.job_id;
  span.device_id = job.row.device_id;
  for (const auto& entry : *entries) {
    const auto header = entry.header();
    if (record::is_base_kind(header.kind)) continue;
    ++facts.entries;
    facts.entries_foreign += record::is_foreign_to(header, span);
    facts.entries_recovered += header.kind == record::Kind::kRecovered;
    if (facts.entries == 1) facts.first_leaf = entry.leaf;
    facts.last_leaf = entry.leaf;
  }
  facts.entries_missing = job.bodies_missing;
  return {};
}

// The owner's own number, from the order the job came by; else what its lines call it.
std::string number_of(const Desk& desk, const watch::JobRecord& job) {
  const auto orders = job_orders(desk);
  if (orders) {
    for (const auto& order : *orders) {
      if (order.sheet.job_id() == view_of(job.row.job_id)) return order.sheet.words();
    }
  }
  return job.name;
}

}  // namespace

std::string issuer_of(const Desk& desk) {
  const std::string& origin = desk.office.origin();
  return origin.substr(0, origin.find('/'));
}

Result<reports::Paper> paper_of(const std::string& text) {
  if (text.empty() || text == "A4") return reports::Paper::kA4;
  if (text == "LETTER") return reports::Paper::kLetter;
  return fail(Code::kBadInput, "paper: '" + text + "' is unknown; use A4 or LETTER");
}

Result<reports::ReportOptions> report_options(const Desk& desk, const std::string& paper,
                                              int utc_offset_minutes, const std::string& zone) {
  const auto size = paper_of(paper);
  if (!size) return std::unexpected(size.error());
  if (utc_offset_minutes < -14 * 60 || utc_offset_minutes > 14 * 60) {
    return fail(Code::kBadInput, "utc_offset_minutes: beyond 14 hours; give minutes east of UTC");
  }
  if (utc_offset_minutes != 0 && !zone.empty())
    return fail(Code::kBadInput, "utc_offset_minutes and zone: give one of the two");
  reports::ReportOptions options;
  options.issuer = issuer_of(desk);
  options.issued_at_us = watch::wall_now_us();
  options.offsets = {{0, utc_offset_minutes}};
  if (!zone.empty()) {
    constexpr int64_t kTwoYears_us = 730 * 86'400'000'000;
    auto offsets = offsets_of(zone, options.issued_at_us + kTwoYears_us);
    if (!offsets) return std::unexpected(offsets.error());
    options.offsets = std::move(*offsets);
    options.zone_name = zone;
  }
  options.paper = *size;
  options.program_version = kProgram;
  return options;
}

Result<reports::RecordFacts> ledger_facts(Desk& desk) {
  reports::RecordFacts facts;
  facts.ledger = desk.office.origin();
  const auto head = desk.ledger().sign_head();
  if (!head) return std::unexpected(head.error());
  facts.head_size = head->size;
  facts.head_root = hex_of(head->root);
  facts.head_at_us = watch::wall_now_us();
  return facts;
}

Result<reports::JobRecord> report_input(Desk& desk, const record::Id16& id, bool whole) {
  const auto job = watch::read_job(desk.ledger(), id);
  if (!job) return std::unexpected(job.error());
  const auto rules = watch::rules_of(desk.ledger(), job->pins);
  if (!rules) return std::unexpected(rules.error());
  reports::JobRecord out;
  out.job_id = hex_of(id);
  out.number = number_of(desk, *job);
  judge::Options options;
  options.job = job->name;
  out.findings = judge::judge_job(*rules, job->lines, options);
  if (const auto view = desk.watch.job(id); job->bodies_erased > 0 && view) {
    if (auto ok = use_recorded(view->findings.lines(), out.findings); !ok)
      return std::unexpected(ok.error());
  }
  // Lines of the truck's other jobs came along only to show that no number is missing.
  for (const auto* lines : {&job->lines, &job->foreign}) {
    for (const auto& line : *lines) {
      if (line.job().empty() || line.job() == job->name || line.job() == out.job_id) {
        out.lines.push_back(line);
      }
    }
  }
  if (auto ok = add_files(desk, job->pins, out); !ok) return std::unexpected(ok.error());
  auto names = card_names(desk);
  if (!names) return std::unexpected(names.error());
  out.cards = std::move(*names);
  if (auto ok = count_entries(desk, *job, out.record); !ok) return std::unexpected(ok.error());
  if (auto ok = add_brackets(desk, id, out); !ok) return std::unexpected(ok.error());
  const auto device = desk.devices.find(job->row.device_id);
  out.record.imported = device && device->kind == v1::EnrolBody::IMPORT;
  for (const watch::ClockStep& step : job->clock_steps)
    out.clock_steps.push_back({step.expected_us, step.shown_us, step.leaf});
  if (!whole) return out;
  add_pictures(desk, out);
  for (const auto add : {add_origins, add_surroundings}) {
    if (auto ok = add(desk, *job, out); !ok) return std::unexpected(ok.error());
  }
  return out;
}

}  // namespace fairlead::desk
