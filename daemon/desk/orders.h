// Orders on their way down, as the ledger holds them.
//
// Threads: as Desk.
#pragma once

#include <vector>

#include "daemon/desk/desk.h"

namespace fairlead::desk {

struct JobOrder {
  uint64_t leaf = 0;
  int64_t given_us = 0;
  record::Id16 device{};
  v1::OrderBody::Sheet sheet;
};

/// Every job ordered at this desk, oldest first.
[[nodiscard]] Result<std::vector<JobOrder>> job_orders(const Desk& desk);

}  // namespace fairlead::desk
