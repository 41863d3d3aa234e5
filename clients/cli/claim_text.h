// Claims as the terminal shows them, at 80 columns; free text made harmless.
#pragma once

#include <string>

#include "fairlead/v1/claims_service.pb.h"

namespace fairlead::cli {

[[nodiscard]] std::string claim_text(const v1::Claim& claim);
/// One line a claim.
[[nodiscard]] std::string claim_line(const v1::Claim& claim);
/// One line a due date that is open: "2027-04-29  in 12 days  C-0001  acknowledge ...".
[[nodiscard]] std::string due_lines(const v1::Claim& claim);

}  // namespace fairlead::cli
