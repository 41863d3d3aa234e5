#include "daemon/desk/ledger_desk.h"

#include <fmt/format.h>

#include "daemon/record/checkpoint.h"
#include "daemon/record/leaf.h"

namespace fairlead::desk {

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
  const auto report = desk.ledger().audit();
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
