// The one sentence for people that a finding carries, from the record alone.
//
// Threads: pure functions.
#pragma once

#include <string>

#include "daemon/judge/finding.h"
#include "daemon/judge/forms.h"

namespace fairlead::judge {

/// What kind of record would decide an unproven finding of that reason.
[[nodiscard]] std::string would_decide_words(Reason reason);

/// `finding` holds everything but the sentence.
[[nodiscard]] std::string sentence_of(const Outcome& outcome, const Finding& finding,
                                      const Procedure& procedure);

}  // namespace fairlead::judge
