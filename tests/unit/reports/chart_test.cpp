// Charts: at most 1,000 points with their extremes kept, holes, limits, ticks.
#include <gtest/gtest.h>

#include <cmath>

#include "reports/charts/plot.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

std::vector<SeriesPoint> noisy(size_t count) {
  std::vector<SeriesPoint> points;
  for (size_t i = 0; i < count; ++i) {
    points.push_back(
        {static_cast<int64_t>(i) * 10'000, std::sin(static_cast<double>(i) / 500), 0.1});
  }
  points[count / 3].value = 9;
  points[count / 2].value = -9;
  return points;
}

TEST(Decimate, KeepsExtremesWithinAThousandPoints) {
  const auto drawn = decimate(noisy(100'000), 0);
  EXPECT_LE(drawn.size(), kMostPoints);
  double lo = 0;
  double hi = 0;
  double last = -1;
  for (const auto& p : drawn) {
    lo = std::min(lo, p.y);
    hi = std::max(hi, p.y);
    EXPECT_GT(p.x, last);
    EXPECT_NEAR(p.hi - p.lo, 0.2, 1e-9);
    last = p.x;
  }
  EXPECT_EQ(lo, -9);
  EXPECT_EQ(hi, 9);
  EXPECT_EQ(decimate(noisy(50), 0).size(), 50u);
}

TEST(Ticks, RoundStepsThreeToSeven) {
  for (const double top : {0.3, 1.0, 5.4, 18.2, 127.0}) {
    const auto all = ticks(0, top);
    EXPECT_GE(all.size(), 3u) << top;
    EXPECT_LE(all.size(), 8u) << top;
    EXPECT_EQ(all.front(), 0);
  }
}

TEST(SignalChart, BreaksAtHolesAndLabelsTheLimit) {
  const JobRecord record = sample_job();
  const JobFacts facts = gather_facts(record);
  for (const auto& series : series_of(record)) {
    if (series.signal != "line.pull") continue;
    const Json chart = signal_chart(series, facts, {{5.4, "limit 5.4 kN"}, {17.8, "limit 17.8 kN"}},
                                    LocalTime(60, ""), "C1");
    // Two pulls 23 s apart: two lines and one hole.
    EXPECT_EQ(chart.at("plot").at("lines").size(), 2u);
    EXPECT_EQ(chart.at("plot").at("holes").size(), 1u);
    EXPECT_EQ(chart.at("plot").at("limits").at(0).at("words"), "limit 5.4 kN");
    EXPECT_EQ(chart.at("far_limits"), "Outside the drawing: limit 17.8 kN");
    const std::string svg = signal_chart_svg(chart);
    EXPECT_NE(svg.find("limit 5.4 kN"), std::string::npos);
    EXPECT_NE(svg.find("free-rolling"), std::string::npos);
    EXPECT_NE(svg.find("aria-label="), std::string::npos);
    return;
  }
  FAIL() << "no line.pull series";
}

// A sensor's own standard deviation goes before the default: 1.645 x 1.2158 % of 4 kN = 0.08 kN.
TEST(Series, HalfWidthFromTheRegister) {
  const auto all = series_of(sample_job());
  for (const auto& series : all) {
    if (series.signal != "line.pull") continue;
    const auto& p = series.points.front();
    EXPECT_NEAR(p.half_width / p.value, 0.02, 1e-4);
    return;
  }
  FAIL() << "no line.pull series";
}

}  // namespace
}  // namespace fairlead::reports
