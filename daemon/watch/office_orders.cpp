// The part of Office for orders that wait: what was signed by a key since given up no truck takes.
#include <algorithm>
#include <map>

#include "daemon/watch/office.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::watch {
namespace {

// Two orders of one subject: the later one holds.
std::string subject_of(const v1::OrderBody& order) {
  const std::string kind = std::to_string(order.order_case()) + "\n";
  const std::string whom = order.device_id() + "\n" + kind;
  if (order.has_sheet()) return whom + order.sheet().job_id();
  if (order.has_file()) return whom + order.file().name();
  if (order.has_calibration_due()) return whom + order.calibration_due().sensor();
  return whom;
}

bool names_admin(const record::Roster& roster, const record::Id16& id) {
  return std::ranges::any_of(roster.admins,
                             [&](const record::RosterKey& admin) { return admin.device_id == id; });
}

}  // namespace

Status Office::renew_orders() {
  constexpr size_t kPage = 1'000;
  const record::Roster& in_force = roster();
  const bool any_given_up = std::ranges::any_of(rosters(), [&](const record::Roster* older) {
    return std::ranges::any_of(older->admins, [&](const record::RosterKey& admin) {
      return !names_admin(in_force, admin.device_id);
    });
  });
  if (!any_given_up) return {};
  std::map<std::string, ledger::StoredEntry> newest;  // By subject.
  for (uint64_t from = 0;;) {
    const auto page = ledger_->entries_of_kind(record::Kind::kOrder, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) {
      v1::OrderBody order;
      if (entry.body_state != ledger::BodyState::kHere || !order.ParseFromString(entry.body))
        continue;
      newest.insert_or_assign(subject_of(order), entry);
    }
    if (page->size() < kPage) break;
    from = page->back().leaf + 1;
  }
  std::map<uint64_t, v1::OrderBody> due;  // In the order they were given.
  for (const auto& [subject, entry] : newest) {
    v1::OrderBody order;
    if (names_admin(in_force, entry.header().device_id) || !order.ParseFromString(entry.body))
      continue;
    const auto job = array_of<16>(order.sheet().job_id(), "job id");
    const bool begun = order.has_sheet() && job && ledger_->job(*job).has_value();
    if (!begun) due[entry.leaf] = std::move(order);
  }
  for (const auto& [leaf, order] : due) {
    const auto job = array_of<16>(order.sheet().job_id(), "job id");
    const auto written = write(record::Kind::kOrder, job.value_or(record::Id16{}), order);
    if (!written) return std::unexpected(written.error());
  }
  return {};
}

}  // namespace fairlead::watch
