#include "daemon/desk/orders.h"

#include <set>

namespace fairlead::desk {

Result<std::vector<JobOrder>> job_orders(const Desk& desk) {
  constexpr size_t kPage = 1'000;
  std::vector<JobOrder> out;
  std::set<std::string> seen;
  for (uint64_t from = 0;;) {
    const auto page = desk.ledger().entries_of_kind(record::Kind::kOrder, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const ledger::StoredEntry& entry : *page) {
      v1::OrderBody body;
      if (!body.ParseFromString(entry.body) || !body.has_sheet()) continue;
      // Written again under another roster it is the same order.
      if (!seen.insert(body.device_id() + body.sheet().job_id()).second) continue;
      out.push_back({entry.leaf, entry.recv_us,
                     array_of<16>(body.device_id(), "order").value_or(record::Id16{}),
                     std::move(*body.mutable_sheet())});
    }
    if (page->size() < kPage) return out;
    from = page->back().leaf + 1;
  }
}

}  // namespace fairlead::desk
