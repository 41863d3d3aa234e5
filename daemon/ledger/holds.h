// Evidence holds as the record tells them: HOLD begins one for a claim and its jobs, HOLD_END with
// the approval of two different people ends it.
//
// Threads: values only.
#pragma once

#include <map>
#include <set>
#include <string>
#include <string_view>

#include "daemon/ledger/types.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::ledger {

struct Hold {
  std::string claim_id;
  uint64_t leaf = 0;  // Of its first HOLD.
  std::set<Id16> jobs;
  std::string words;
};

class Holds {
 public:
  /// To be called with every HOLD and HOLD_END in the order of their leaves; other kinds are passed
  /// over. Errors: kCorrupt for a body that cannot be read.
  [[nodiscard]] Status take(Kind kind, std::string_view body, uint64_t leaf);
  /// By claim.
  [[nodiscard]] const std::map<std::string, Hold>& active() const { return active_; }

 private:
  std::map<std::string, Hold> active_;
};

/// Two people approve the end of a hold; one person under two spellings is one. Errors: kBadInput.
[[nodiscard]] Status check_approvals(const v1::HoldEndBody& end);

}  // namespace fairlead::ledger
