#include "daemon/desk/ledger_desk.h"

#include <fmt/format.h>

#include "daemon/base/time_text.h"
#include "daemon/ledger/names.h"
#include "daemon/record/checkpoint.h"
#include "daemon/record/leaf.h"
#include "daemon/record/merkle.h"

namespace fairlead::desk {

v1::Disk disk_message(const watch::DiskState& state) {
  v1::Disk disk;
  disk.set_free_bytes(state.space.free);
  disk.set_reusable_bytes(state.reusable);
  disk.set_total_bytes(state.space.total);
  disk.set_refuses_attachments(state.room != ledger::Room::kAll);
  disk.set_refuses_entries(state.room == ledger::Room::kNothing);
  disk.set_refuses_samples(state.refuses_samples);
  return disk;
}

v1::Scrub scrub_message(const watch::ScrubState& state) {
  v1::Scrub scrub;
  scrub.set_running(state.running);
  scrub.set_leaves_done(state.progress.leaves);
  scrub.set_leaves_total(state.progress.leaves_total);
  scrub.set_attachments_done(state.progress.attachments);
  if (state.last_done_us > 0) scrub.set_last_done(format_time_us(state.last_done_us));
  for (const std::string& problem : state.problems) scrub.add_problem(problem);
  return scrub;
}

namespace {

// What does not hold of one entry, its body and the attachments it names.
Status check_item(const Desk& desk, const ledger::SignedHead& head,
                  const ledger::StoredEntry& entry, std::vector<std::string>& problems) {
  const auto header = entry.header();
  const auto damaged = [&](std::string_view what) {
    problems.push_back(fmt::format("leaf {} ({} {} of device {}): {}", entry.leaf,
                                   record::kind_name(header.kind), header.seq,
                                   hex_of(header.device_id).substr(0, 8), what));
  };
  const auto path = desk.ledger().inclusion(entry.leaf, head.size);
  if (!path) return std::unexpected(path.error());
  if (!record::verify_inclusion(entry.leaf, head.size,
                                record::leaf_hash_of(entry.entry, entry.recv_us), *path,
                                head.root)) {
    damaged("is not the one under the published head");
  }
  if (entry.body_state != ledger::BodyState::kHere) return {};
  if (!record::body_matches(header, entry.salt, entry.body))
    damaged("its body is not the one signed for");
  for (const Hash& file : ledger::attachments_in(entry.body)) {
    const auto bytes = desk.ledger().attachment(file);
    if (!bytes && bytes.error().code == Code::kCorrupt) problems.push_back(bytes.error().message);
  }
  return {};
}

}  // namespace

Result<ItemCheck> check_job_items(Desk& desk, const record::Id16& job) {
  const auto head = desk.ledger().sign_head();
  if (!head) return std::unexpected(head.error());
  const auto entries = desk.ledger().job_entries(job);
  if (!entries) return std::unexpected(entries.error());
  ItemCheck check;
  check.entries = entries->size();
  for (const ledger::StoredEntry& entry : *entries) {
    if (entry.leaf >= head->size) continue;  // Came after the head.
    if (auto ok = check_item(desk, *head, entry, check.problems); !ok)
      return std::unexpected(ok.error());
  }
  for (const std::string& problem : check.problems) {
    v1::AlarmBody alarm;
    alarm.set_cause(v1::AlarmBody::SCRUB);
    alarm.set_words(problem);
    if (const auto written = desk.office.write(record::Kind::kAlarm, {}, alarm); !written)
      return std::unexpected(written.error());
  }
  return check;
}

Result<v1::GetStatusResponse> get_status(Desk& desk, const v1::GetStatusRequest&) {
  v1::GetStatusResponse response;
  response.set_role("base");
  response.set_name(desk.office.roster().base_name);
  response.set_origin(desk.office.origin());
  response.set_entries(desk.ledger().size());
  response.set_enrolled(true);
  response.set_frozen(desk.office.heads().frozen());
  response.set_waits_for_head(desk.office.heads().waiting());
  response.set_data_folder(std::filesystem::absolute(desk.office.data()).string());
  if (desk.countersigning != nullptr) desk.countersigning->add_status(response);
  for (const watch::JobView& view : desk.watch.jobs()) {
    if (!view.closed) response.add_open_job(view.name);
  }
  if (desk.disk) *response.mutable_disk() = disk_message(desk.disk());
  if (desk.scrubber != nullptr) *response.mutable_scrub() = scrub_message(desk.scrubber->state());
  return response;
}

Result<v1::GetHeadResponse> get_head(Desk& desk, const v1::GetHeadRequest&) {
  const auto head = desk.ledger().sign_head();
  if (!head) return std::unexpected(head.error());
  v1::GetHeadResponse response;
  response.set_size(head->size);
  response.set_root(string_of(head->root));
  response.set_checkpoint(head->note);
  response.set_fingerprint(record::fingerprint_of(head->root));
  return response;
}

Result<v1::ProveResponse> prove(Desk& desk, const v1::ProveRequest& request) {
  const auto head = desk.ledger().sign_head();
  if (!head) return std::unexpected(head.error());
  v1::ProveResponse response;
  response.set_size(head->size);
  response.set_checkpoint(head->note);
  Result<std::vector<Hash>> proof;
  if (request.has_old_size()) {
    if (request.old_size() == 0 || request.old_size() > head->size) {
      return fail(Code::kBadInput, fmt::format("old_size: give 1 to {}", head->size));
    }
    proof = desk.ledger().consistency(request.old_size(), head->size);
  } else {
    const auto entry = desk.ledger().entry(request.leaf_index());
    if (!entry || request.leaf_index() >= head->size) {
      return fail(Code::kNotFound,
                  fmt::format("leaf_index: the ledger has leaves 0 to {}", head->size - 1));
    }
    response.set_leaf_data(string_of(record::leaf_data_of(entry->entry, entry->recv_us)));
    proof = desk.ledger().inclusion(request.leaf_index(), head->size);
  }
  if (!proof) return std::unexpected(proof.error());
  for (const Hash& hash : *proof) response.add_hash(string_of(hash));
  return response;
}

Result<v1::AuditResponse> audit(Desk& desk, const v1::AuditRequest&) {
  const auto report = desk.scrubber != nullptr ? desk.scrubber->read_all() : desk.ledger().audit();
  if (!report) return std::unexpected(report.error());
  v1::AuditResponse response;
  response.set_leaves(report->leaves);
  response.set_bodies(report->bodies);
  response.set_attachments(report->attachments);
  for (const std::string& problem : report->problems) response.add_fault(problem);
  return response;
}

Result<v1::GetCountersignResponse> get_countersign(Desk& desk,
                                                   const v1::GetCountersignRequest& request) {
  if (desk.countersigning != nullptr) return desk.countersigning->ask(request);
  return fail(Code::kNotFound, "nobody countersigns this base");
}

Result<v1::TakeCountersignResponse> take_countersign(Desk& desk,
                                                     const v1::TakeCountersignRequest& request) {
  if (desk.countersigning != nullptr) return desk.countersigning->take(request);
  return fail(Code::kNotFound, "nobody countersigns this base");
}

}  // namespace fairlead::desk
