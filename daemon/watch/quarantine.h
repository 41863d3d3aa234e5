// Which entries count for nothing: those of a device after the last trusted one a REVOKE names.
// They stay in the ledger and are shown; nothing is judged by them.
//
// Threads: reads only; blocks on the disk.
#pragma once

#include <map>

#include "daemon/ledger/ledger.h"
#include "daemon/record/job_span.h"

namespace fairlead::watch {

class Quarantine {
 public:
  /// Reads the REVOKE entries of the ledger.
  [[nodiscard]] static Result<Quarantine> read(const ledger::Ledger& ledger);
  [[nodiscard]] bool holds(const record::EntryHeader& header) const;

 private:
  std::map<record::Id16, record::ChainPlace> last_trusted_;
};

}  // namespace fairlead::watch
