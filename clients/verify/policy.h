// The insurer's own file: whose log it is and whose word counts. Keys are never taken from a
// bundle.
//
//   fairlead policy v1
//   log VKEY                 its name is the origin
//   roster SHA-256           fingerprint as it stands in the contract; one line a roster
//   countersigner VKEY       none or more, of type cosignature
//   officers required        every enrolment of a truck must carry an officer's signature
//   threshold N              how many of them must have cosigned; 1 when absent
// Lines that begin with '#' are comments.
// Threads: pure functions.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "daemon/record/note.h"

namespace fairlead::verifier {

struct Policy {
  record::VerifierKey log;
  std::vector<Hash> rosters;
  std::vector<record::VerifierKey> countersigners;
  size_t threshold = 1;
  bool officers_required = false;

  [[nodiscard]] const std::string& origin() const { return log.name; }
};

/// Errors: kBadInput naming the line.
[[nodiscard]] Result<Policy> parse_policy(std::string_view text);
[[nodiscard]] std::string format_policy(const Policy& policy);

/// Makes a policy from what the owner hands over: the rosters, oldest first. Their signatures, that
/// each may follow the one before and that they name this log key are checked; that they are the
/// right ones the caller compares with the contract. Officers are asked for where the first roster
/// names some.
[[nodiscard]] Result<Policy> pin(const std::vector<std::string_view>& roster_notes,
                                 std::string_view log_key,
                                 const std::vector<std::string>& countersigner_keys,
                                 size_t threshold);

}  // namespace fairlead::verifier
