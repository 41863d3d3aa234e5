// A year of 52,000 invented findings for the tests of the summary's pages.
#pragma once

#include <string>

#include "reports/summary/summary.h"

namespace fairlead::reports {

/// 40 rules, 1,300 jobs before the span and in it, 60 claims, 30 devices; `text` stands wherever
/// people write.
[[nodiscard]] SummaryInput sample_summary(const std::string& text);

}  // namespace fairlead::reports
