// A control chart: rates by period, limits as steps, centre, running mean. Black and white safe.
//
// Threads: pure function.
#pragma once

#include <string>

#include "reports/json.h"

namespace fairlead::reports {

/// `chart`: title, alt, slots, centre, top, first, last, points of {slot, value, lo, hi, smooth,
/// out}.
[[nodiscard]] std::string control_chart_svg(const Json& chart);

}  // namespace fairlead::reports
