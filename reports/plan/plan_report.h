// A plan for people (80 columns), for programs (JSON) and as a drawing to scale (SVG).
//
// Threads: pure functions. Units: each check prints in its own; ranges are rounded outward, so that
// a printed margin never claims more than the computed one.
#pragma once

#include <string>

#include "daemon/plan/plan.h"
#include "reports/json.h"

namespace fairlead::reports {

[[nodiscard]] std::string plan_text(const plan::Plan& plan);
[[nodiscard]] Json plan_json(const plan::Plan& plan);
/// Side and top of the loaded truck, axle loads, tiedowns with their credit and share. What no file
/// gives is drawn dashed, as a guess.
[[nodiscard]] std::string plan_drawing(const plan::Plan& plan);

/// "yes", "no" or "not shown".
[[nodiscard]] std::string_view fits_word(plan::Verdict fits);
/// Margin of a check: "+482 kg (+361 to +603)"; "not known" without any bound.
[[nodiscard]] std::string margin_text(const plan::PlanCheck& check);

}  // namespace fairlead::reports
