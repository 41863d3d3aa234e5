// Drawings as JSON first, SVG second: whatever a drawing prints stands in its JSON.
//
// Threads: pure functions. Units: x is seconds from the drawing's start, y the series' own unit.
#pragma once

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "reports/claim/facts.h"
#include "reports/claim/signals.h"
#include "reports/json.h"
#include "reports/text.h"

namespace fairlead::reports {

/// At most this many points of one series are drawn: least and greatest of each bin.
inline constexpr size_t kMostPoints = 1000;

struct BinnedPoint {
  double x = 0, y = 0, lo = 0, hi = 0;
};

/// Least and greatest value of each of kMostPoints / 2 equal spans of time, in time order; a series
/// that already fits is returned whole. lo and hi are value -+ half-width.
[[nodiscard]] std::vector<BinnedPoint> decimate(const std::vector<SeriesPoint>& points,
                                                int64_t start_us);

/// Round steps that cover [lo, hi] with 3 to 7 ticks.
[[nodiscard]] std::vector<double> ticks(double lo, double hi);

/// A horizontal line to draw: where, and what it is.
struct LimitLine {
  double y = 0;
  std::string words;
};

/// One signal's chart: line, uncertainty band, holes, shaded stretches, limits, numbered events.
[[nodiscard]] Json signal_chart(const Series& series, const JobFacts& facts,
                                const std::vector<LimitLine>& limits, const LocalTime& local,
                                const std::string& exhibit);
[[nodiscard]] std::string signal_chart_svg(const Json& chart);

/// The custody line, drawn to time; `claim_us` is when the claim was received.
[[nodiscard]] Json custody_chart(const JobRecord& record, const JobFacts& facts,
                                 const LocalTime& local, std::optional<int64_t> claim_us);
[[nodiscard]] std::string custody_chart_svg(const Json& chart);

}  // namespace fairlead::reports
