// Rates drawn as intervals, one row a rule: pale bar between the bounds (every unproven one good,
// every one bad), dark bar for the exact interval, a dot for the rate.
//
// Threads: pure function.
#pragma once

#include <string>

#include "reports/json.h"

namespace fairlead::reports {

/// `chart` holds "alt", "x1" (right end, per hundred), "ticks" [{x, label}] and "rows" [{label,
/// text, lo, hi, rate, good, bad, has_rate}], all figures in numbers per hundred.
[[nodiscard]] std::string interval_chart_svg(const Json& chart);

}  // namespace fairlead::reports
