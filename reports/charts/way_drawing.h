// The way of truck and car as drawings to scale: the truck's route from its receiver, the car's own
// track from its tag, the pulls from the rope counter. JSON first, SVG from it.
//
// Threads: pure functions. Units: metres on the ground; coordinates are the drawing's own units.
#pragma once

#include <string>

#include "reports/claim/facts.h"
#include "reports/claim/signals.h"
#include "reports/json.h"
#include "reports/text.h"

namespace fairlead::reports {

/// Those that the record has anything for, with exhibits D1, D2 and on.
[[nodiscard]] Json way_drawings(const JobRecord& record, const JobFacts& facts,
                                const std::vector<Series>& series, const LocalTime& local);
[[nodiscard]] std::string way_svg(const Json& drawing);

}  // namespace fairlead::reports
