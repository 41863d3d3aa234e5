// A finding's figures and words as the report prints them.
//
// Threads: pure functions. Figures are the judge's own, rounded further outward to the decimals a
// reader can use.
#pragma once

#include <string>

#include "daemon/judge/finding.h"

namespace fairlead::reports {

/// "14.2 m (13.9 to 14.5)"; "-" where the finding carries no value.
[[nodiscard]] std::string value_words(const judge::Finding& finding);
/// "under 10 m"; "-" where there is none (an order has none).
[[nodiscard]] std::string limit_words(const judge::Finding& finding);
/// Signed, for tables: "-4.2 m (-4.5 to -3.9)"; "-" where there is no margin.
[[nodiscard]] std::string margin_signed(const judge::Finding& finding);
/// Unsigned, for sentences: "2.1 m (1.9 to 2.3)", "4.2 m outside (3.9 to 4.5)".
[[nodiscard]] std::string margin_words(const judge::Finding& finding);
/// The exact term: "met", "deviated", "unproven"; "does not apply".
[[nodiscard]] std::string verdict_words(const judge::Finding& finding);
/// "measured", "pictured", "said"; "-" where nothing decides.
[[nodiscard]] std::string basis_words(const judge::Finding& finding);
/// Why a finding is unproven, in words; empty otherwise.
[[nodiscard]] std::string reason_words(const judge::Finding& finding);
[[nodiscard]] std::string reason_words(judge::Reason reason);
/// Title, or the rule's id where a finding carries no title.
[[nodiscard]] std::string title_words(const judge::Finding& finding);

}  // namespace fairlead::reports
