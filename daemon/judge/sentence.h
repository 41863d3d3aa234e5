// The one sentence for people that a finding carries, from the record alone.
//
// Threads: pure functions.
#pragma once

#include <string>
#include <string_view>

#include "daemon/judge/finding.h"
#include "daemon/judge/forms.h"

namespace fairlead::judge {

/// What kind of record would decide an unproven finding of that reason.
[[nodiscard]] std::string would_decide_words(Reason reason);

/// Of a finding cut short whose job had ended by then.
inline constexpr std::string_view kEndedBefore =
    "the job ended before it was due; what came after the end is on no record";

/// `finding` holds everything but the sentence.
[[nodiscard]] std::string sentence_of(const Outcome& outcome, const Finding& finding,
                                      const Procedure& procedure, const Rule& rule);

}  // namespace fairlead::judge
