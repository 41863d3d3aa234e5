// The writer's statements, prepared once.
//
// Threads: the writer's thread only.
#pragma once

#include "daemon/ledger/sqlite/store.h"

namespace fairlead::ledger {

struct Store::Statements {
  Statement insert_leaf, insert_body, insert_node, leaf_at, body_came;
  Statement find_job, insert_job, open_job, close_job, reopen_job, job_state;
  Statement insert_file, insert_order, insert_value, delete_value;
  Statement insert_attached, attached_of, attached_again, forget_attached;
  Statement leaf_row, delete_body, body_gone;

  [[nodiscard]] static Result<std::shared_ptr<Statements>> prepare(const Database& database);
};

}  // namespace fairlead::ledger
