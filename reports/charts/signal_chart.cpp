#include <algorithm>
#include <cmath>

#include "reports/charts/plot.h"

namespace fairlead::reports {
namespace {

double rounded(double value, int decimals) {
  const double scale = std::pow(10, decimals);
  const double out = std::round(value * scale) / scale;
  return out == 0 ? 0 : out;
}

struct Window {
  int64_t start_us, end_us;
  [[nodiscard]] double seconds(int64_t time) const {
    return rounded(static_cast<double>(time - start_us) / 1e6, 3);
  }
  [[nodiscard]] bool holds(int64_t time) const { return time >= start_us && time <= end_us; }
};

Window window_of(const Series& series) {
  const int64_t first = series.points.front().time_us;
  const int64_t last = series.points.back().time_us;
  const int64_t pad = std::max<int64_t>(2'000'000, (last - first) / 40);
  return {first - pad, last + pad};
}

// Time steps a clock reader expects, the shortest that gives at most nine.
Json time_ticks(const Window& window, const LocalTime& local) {
  static constexpr int64_t kSteps[] = {1,   2,   5,    10,   15,   30,    60,    120,  300,
                                       600, 900, 1800, 3600, 7200, 14400, 28800, 86400};
  int64_t step = 86400 * 7;
  for (const int64_t candidate : kSteps) {
    if ((window.end_us - window.start_us) / 1'000'000 / candidate <= 8) {
      step = candidate;
      break;
    }
  }
  const LocalTime utc(0, "");
  Json out = Json::array();
  const int64_t step_us = step * 1'000'000;
  for (int64_t at = (window.start_us / step_us + 1) * step_us; at < window.end_us; at += step_us) {
    const bool minutes = step % 60 == 0;
    out.push_back({{"x", window.seconds(at)},
                   {"label", minutes ? local.minute(at) : local.clock(at)},
                   {"utc", minutes ? utc.minute(at) : utc.clock(at)}});
  }
  return out;
}

bool is_event(const v1::Observation& line) {
  return line.has_clamp() || line.has_line() || line.has_vehicle_mode() || line.has_wheels() ||
         line.has_rigging() || line.has_truck_motion() || line.has_source_power() ||
         line.has_screen() || line.has_drive_ready() || line.has_warning();
}

Json events(const Window& window, const JobFacts& facts) {
  Json out = Json::array();
  const double room = window.seconds(window.end_us) / 28;  // Labels closer than this would touch.
  double last = -room;
  for (size_t i = 0; i < facts.lines.size(); ++i) {
    const auto& mark = facts.lines[i];
    if (mark.taken_back || !is_event(*mark.line) || !window.holds(mark.time_us)) continue;
    const double x = window.seconds(mark.time_us);
    if (x - last < room) continue;
    out.push_back({{"x", x}, {"label", std::to_string(i + 1)}});
    last = x;
  }
  return out;
}

Json shades(const Window& window, const JobFacts& facts) {
  Json out = Json::array();
  for (const auto& stretch : facts.stretches) {
    if (stretch.to_us <= window.start_us || stretch.from_us >= window.end_us) continue;
    out.push_back({{"x0", window.seconds(std::max(stretch.from_us, window.start_us))},
                   {"x1", window.seconds(std::min(stretch.to_us, window.end_us))},
                   {"words", stretch.words}});
  }
  return out;
}

// Splits at holes longer than the signal allows: nothing is drawn where nothing was recorded.
void add_lines(const Series& series, const Window& window, Json& plot) {
  Json lines = Json::array();
  Json holes = Json::array();
  std::vector<SeriesPoint> run;
  const auto flush = [&] {
    Json line = Json::array();
    for (const auto& p : decimate(run, window.start_us)) {
      const int places = series.decimals + 2;
      line.push_back(
          {rounded(p.x, 3), rounded(p.y, places), rounded(p.lo, places), rounded(p.hi, places)});
    }
    if (!line.empty()) lines.push_back(std::move(line));
    run.clear();
  };
  for (const auto& point : series.points) {
    const auto hole_us = static_cast<int64_t>(series.longest_gap_s * 1e6);
    if (!run.empty() && point.time_us - run.back().time_us > hole_us) {
      holes.push_back({window.seconds(run.back().time_us), window.seconds(point.time_us)});
      flush();
    }
    run.push_back(point);
  }
  flush();
  plot["lines"] = std::move(lines);
  plot["holes"] = std::move(holes);
}

std::pair<double, double> y_range(const Series& series, const std::vector<LimitLine>& limits) {
  if (series.on_off) return {-0.2, 1.2};
  double lo = series.points.front().value;
  double hi = lo;
  for (const auto& p : series.points) {
    lo = std::min(lo, p.value - p.half_width);
    hi = std::max(hi, p.value + p.half_width);
  }
  const double data_span = std::max(hi - lo, 1e-9);
  for (const auto& limit : limits) {
    // A limit far away would flatten the line; it is then named under the chart instead.
    if (limit.y > hi + 3 * data_span || limit.y < lo - 3 * data_span) continue;
    lo = std::min(lo, limit.y);
    hi = std::max(hi, limit.y);
  }
  if (lo > 0 && lo < hi / 2) lo = 0;
  const double pad = std::max((hi - lo) * 0.08, std::pow(10, -series.decimals));
  return {lo == 0 ? 0 : lo - pad, hi + pad};
}

void add_y(const Series& series, const std::vector<LimitLine>& limits, Json& plot,
           std::string& far) {
  const auto [lo, hi] = y_range(series, limits);
  plot["y0"] = rounded(lo, series.decimals + 2);
  plot["y1"] = rounded(hi, series.decimals + 2);
  Json y_ticks = Json::array();
  if (series.on_off) {
    y_ticks.push_back({{"y", 0}, {"label", "open"}});
    y_ticks.push_back({{"y", 1}, {"label", "touching"}});
  } else {
    const auto steps = ticks(lo, hi);
    const double step = steps.size() > 1 ? steps[1] - steps[0] : 1;
    const int places = step >= 1 ? 0 : step >= 0.1 ? 1 : 2;
    const bool finer = std::abs(step - rounded(step, places)) > 1e-9;
    for (const double y : steps) {
      y_ticks.push_back({{"y", rounded(y, 4)}, {"label", fixed(y, finer ? places + 1 : places)}});
    }
  }
  plot["y_ticks"] = std::move(y_ticks);
  Json drawn = Json::array();
  for (const auto& limit : limits) {
    if (limit.y >= lo && limit.y <= hi) {
      drawn.push_back({{"y", rounded(limit.y, 4)}, {"words", limit.words}});
    } else {
      far += (far.empty() ? "Outside the drawing: " : "; ") + limit.words;
    }
  }
  plot["limits"] = std::move(drawn);
}

std::string range_words(const Series& series) {
  const auto less = [](const SeriesPoint& a, const SeriesPoint& b) { return a.value < b.value; };
  const auto [lo, hi] = std::minmax_element(series.points.begin(), series.points.end(), less);
  return fixed(lo->value, series.decimals) + " to " + fixed(hi->value, series.decimals) +
         (series.unit.empty() ? "" : " " + series.unit);
}

}  // namespace

Json signal_chart(const Series& series, const JobFacts& facts, const std::vector<LimitLine>& limits,
                  const LocalTime& local, const std::string& exhibit) {
  Json chart;
  chart["exhibit"] = exhibit;
  chart["title"] = series.title + (series.unit.empty() ? "" : ", " + series.unit);
  chart["source"] = shown(series.source);
  chart["samples"] = counted(series.points.size(), "sample", "samples");
  chart["left_out"] = series.not_good == 0
                          ? Json(false)
                          : Json(counted(series.not_good, "sample was", "samples were") +
                                 " marked as not good and not drawn");
  chart["range"] = series.on_off ? "open or touching" : range_words(series);
  const Window window = window_of(series);
  chart["clock"] = local.name();
  chart["utc_row"] = !local.is_utc();
  Json plot;
  plot["x1"] = window.seconds(window.end_us);
  plot["on_off"] = series.on_off;
  std::string far;
  add_y(series, limits, plot, far);
  add_lines(series, window, plot);
  plot["shades"] = shades(window, facts);
  plot["events"] = events(window, facts);
  plot["x_ticks"] = time_ticks(window, local);
  chart["far_limits"] = far.empty() ? Json(false) : Json(far);
  chart["alt"] = series.title + " from " + local.clock(series.points.front().time_us) + " to " +
                 local.clock(series.points.back().time_us) + ": " +
                 chart["range"].get<std::string>();
  chart["plot"] = std::move(plot);
  return chart;
}

}  // namespace fairlead::reports
