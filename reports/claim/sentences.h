// The two sentences of an answer, from what decided it. Never about cause.
//
// Threads: pure functions.
#pragma once

#include <string>
#include <vector>

#include "reports/claim/conclusion.h"

namespace fairlead::reports {

/// What of the record led to the conclusion, with exhibit numbers.
[[nodiscard]] std::string first_sentence(const JobRecord& record, Conclusion conclusion,
                                         const Tied& tied, const PlaceFacts& place);
/// How far the conclusion reaches.
[[nodiscard]] std::string second_sentence(const v1::AllegationKind& kind, Conclusion conclusion,
                                          const std::vector<std::string>& settle);
/// One finding as a column's line, where the table has no words of its own.
[[nodiscard]] std::string plain_finding_sentence(const judge::Finding& finding);
/// The same of a reading: that nobody judged it stands in it.
[[nodiscard]] std::string plain_reading_sentence(const Reading& reading);

}  // namespace fairlead::reports
