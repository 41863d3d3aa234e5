// Parts of the summary's JSON, in the order of its pages.
#pragma once

#include <vector>

#include "reports/json.h"
#include "reports/summary/summary.h"
#include "reports/text.h"

namespace fairlead::reports {

[[nodiscard]] Json completeness_part(const SummaryInput& input);
[[nodiscard]] Json exposure_part(const SummaryInput& input);
[[nodiscard]] Json deviations_part(const SummaryInput& input, const std::vector<RuleCount>& counts);
/// A figure of so few people would name them; never in the owner's own copy.
[[nodiscard]] bool names_people(const SummaryInput& input, const std::set<std::string>& people);
/// Charts of each period of the span against the fleet's own past, and whether they stand out.
[[nodiscard]] Result<Json> change_part(const SummaryInput& input, const LocalTime& local,
                                       int64_t now_us);
/// This span against the one of equal length before it, where that is fair.
[[nodiscard]] Json compare_part(const SummaryInput& input, const std::vector<RuleCount>& counts,
                                int64_t now_us);
[[nodiscard]] Json claims_part(const SummaryInput& input, const LocalTime& local, int64_t now_us);
[[nodiscard]] Json due_part(const SummaryInput& input, const LocalTime& local, int64_t now_us);
[[nodiscard]] Json actions_part(const SummaryInput& input, const std::vector<RuleCount>& counts);
[[nodiscard]] Json standing_part(const SummaryInput& input);
[[nodiscard]] Json head_part(const SummaryInput& input, const LocalTime& local);

}  // namespace fairlead::reports
