// Lines of the record as sentences of the time line.
//
// Threads: pure function.
#pragma once

#include <string>

#include "reports/job_record.h"

namespace fairlead::reports {

/// One line in words, cards by name, free text made harmless. Samples, fixes and signs of life have
/// no words: they stand in the charts.
[[nodiscard]] std::string line_words(const JobRecord& record, const v1::Observation& line);

/// What a step of the device's clock does: "set back by 2 h 3 min; ...". Judged as such: a step
/// back is added to the uncertainty of the stepped lines, a step forward cannot be told from time.
[[nodiscard]] std::string clock_step_words(int64_t step_us);

/// A photo view in words: "spot:front lip" is "front lip".
[[nodiscard]] std::string view_words(const std::string& view);

/// Where a source's word comes from: "operator", "desk", "instrument", ...
[[nodiscard]] std::string source_words(const std::string& source);

}  // namespace fairlead::reports
