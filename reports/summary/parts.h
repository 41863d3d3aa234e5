// Parts of the summary's JSON, in the order of its pages.
#pragma once

#include <vector>

#include "reports/json.h"
#include "reports/summary/summary.h"
#include "reports/text.h"

namespace fairlead::reports {

[[nodiscard]] Json completeness_part(const SummaryInput& input);
[[nodiscard]] Json exposure_part(const SummaryInput& input);
[[nodiscard]] Json deviations_part(const std::vector<RuleCount>& counts);
/// Which periods of the span stand out (u-charts), or that no change is shown.
[[nodiscard]] Result<Json> change_part(const SummaryInput& input, const LocalTime& local,
                                       int64_t now_us);
[[nodiscard]] Json claims_part(const SummaryInput& input, const LocalTime& local, int64_t now_us);
[[nodiscard]] Json due_part(const SummaryInput& input, const LocalTime& local, int64_t now_us);
[[nodiscard]] Json actions_part(const std::vector<RuleCount>& counts);
[[nodiscard]] Json standing_part(const SummaryInput& input);
[[nodiscard]] Json head_part(const SummaryInput& input, const LocalTime& local);

}  // namespace fairlead::reports
