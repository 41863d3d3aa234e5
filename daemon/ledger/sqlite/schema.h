// The tables of a ledger. Leaves, bodies and attachments are the record; everything else can be
// built again from them.
//
// Threads: pure.
#pragma once

#include "daemon/ledger/sqlite/database.h"

namespace fairlead::ledger {

/// Makes the tables in an empty database and checks the version of an existing one. Errors:
/// kBadInput for a database of another program or a later version.
[[nodiscard]] Status make_schema(Database& writer);

}  // namespace fairlead::ledger
