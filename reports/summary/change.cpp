// Change over the span: u-charts of deviations and claims, period by period.
//
// Periods are equal and whole, counted from the span's first moment; the rest at its end is left
// out. Their length follows from the span's length alone, never from what was counted. That twelve
// periods are the fewest is our choice, no source (NIST's own worked chart has 25); that a mean
// count of 5 is the smallest is NIST/SEMATECH e-Handbook 6.3.3.1 (u_chart_usable).
#include <fmt/format.h>

#include <algorithm>

#include "daemon/physics/control_charts.h"
#include "reports/summary/parts.h"

namespace fairlead::reports {
namespace {

constexpr int64_t kDay = 86'400'000'000;
constexpr int64_t kClaimAgeDays = 90;
constexpr int64_t kFewestPeriods = 12;
constexpr double kOutsideByChance = 0.0027;  // Of a point beyond three sigma, normal distribution.

struct Periods {
  int64_t from_us = 0, days = 7, whole = 0;
  [[nodiscard]] size_t size() const { return static_cast<size_t>(whole); }
  [[nodiscard]] int64_t begin_us(size_t i) const {
    return from_us + static_cast<int64_t>(i) * days * kDay;
  }
  [[nodiscard]] std::optional<size_t> of(int64_t time_us) const {
    if (time_us < from_us || time_us >= begin_us(size())) return std::nullopt;
    return static_cast<size_t>((time_us - from_us) / (days * kDay));
  }
};

// Four weeks where the span holds enough of them, else weeks: each weekday counts as often.
Periods periods_of(const SummaryInput& in) {
  Periods out{.from_us = in.from_us};
  const int64_t whole_days = (in.to_us - in.from_us) / kDay;
  if (whole_days / 28 >= kFewestPeriods) out.days = 28;
  out.whole = whole_days / out.days;
  return out;
}

struct Series {
  std::string what, per;
  double scale = 100;                      // Rates are printed per so many.
  std::vector<uint64_t> events, exposure;  // One a period.
};

std::vector<Series> deviation_series(const SummaryInput& in, const Periods& periods) {
  std::map<std::pair<std::string, std::string>, Series> all;
  for (const auto& job : in.jobs) {
    const auto at = periods.of(job.opened_us);
    if (!at) continue;
    for (const auto& count : count_rules({job})) {
      Series& one = all[{count.procedure, count.rule}];
      if (one.events.empty()) {
        one.what = count.title + " (" + shown(count.procedure) + ")";
        one.per = "100 judged";
        one.events.resize(periods.size());
        one.exposure.resize(periods.size());
      }
      one.events[*at] += count.deviated;
      one.exposure[*at] += count.judged();
    }
  }
  std::vector<Series> out;
  for (auto& [key, one] : all) out.push_back(std::move(one));
  return out;
}

// By period of the job, at equal age: a period not yet old enough has no exposure.
Series claim_series(const SummaryInput& in, const Periods& periods, int64_t now_us) {
  Series out;
  out.what = "Claims within 90 days of the job";
  out.per = "1,000 jobs";
  out.scale = 1000;
  out.events.resize(periods.size());
  out.exposure.resize(periods.size());
  const auto old_enough = [&](size_t i) {
    return periods.begin_us(i + 1) + kClaimAgeDays * kDay <= now_us;
  };
  for (const auto& job : in.jobs) {
    if (const auto at = periods.of(job.opened_us); at && old_enough(*at)) ++out.exposure[*at];
  }
  for (const auto& claim : in.claims) {
    const auto at = periods.of(claim.job_opened_us);
    if (at && old_enough(*at) && claim.received_us <= claim.job_opened_us + kClaimAgeDays * kDay)
      ++out.events[*at];
  }
  return out;
}

struct Looked {
  Json rows = Json::array();
  uint64_t charts = 0, points = 0, too_few = 0;
};

// Periods of fewer than kFewestJudged are left out: no rate is printed on so few.
Status look_at(const Series& series, const Periods& periods, const LocalTime& local, Looked& out) {
  std::vector<double> counts, exposures;
  std::vector<size_t> which;
  for (size_t i = 0; i < series.events.size(); ++i) {
    if (series.exposure[i] < kFewestJudged) continue;
    counts.push_back(static_cast<double>(series.events[i]));
    exposures.push_back(static_cast<double>(series.exposure[i]));
    which.push_back(i);
  }
  if (which.size() < static_cast<size_t>(kFewestPeriods)) {
    ++out.too_few;
    return {};
  }
  const auto chart = physics::u_chart(counts, exposures);
  if (!chart) return std::unexpected(chart.error());
  if (!physics::u_chart_usable(*chart, exposures)) {
    ++out.too_few;
    return {};
  }
  ++out.charts;
  out.points += which.size();
  std::vector<std::string> outside;
  for (size_t i = 0; i < which.size(); ++i) {
    const auto& point = chart->points[i];
    if (!point.out) continue;
    outside.push_back(local.date(periods.begin_us(which[i])) + ": " +
                      fixed(series.scale * point.value, 1) + ", limits " +
                      fixed(series.scale * point.lo, 1) + " to " +
                      fixed(series.scale * point.hi, 1));
  }
  out.rows.push_back({{"what", series.what},
                      {"per", series.per},
                      {"periods", grouped(which.size())},
                      {"mean", fixed(series.scale * chart->centre, 1)},
                      {"outside", outside},
                      {"words", outside.empty() ? std::string("no change shown")
                                                : fmt::format("outside, from {}",
                                                              fmt::join(outside, "; from "))}});
  return {};
}

}  // namespace

Result<Json> change_part(const SummaryInput& in, const LocalTime& local, int64_t now_us) {
  const Periods periods = periods_of(in);
  auto all = deviation_series(in, periods);
  all.push_back(claim_series(in, periods, now_us));
  Looked looked;
  for (const auto& series : all) {
    if (auto ok = look_at(series, periods, local, looked); !ok) return std::unexpected(ok.error());
  }
  const std::string length = grouped(static_cast<uint64_t>(periods.days)) + " days";
  const std::string by_chance = fixed(static_cast<double>(looked.points) * kOutsideByChance, 1);
  return Json{
      {"has_rows", !looked.rows.empty()},
      {"rows", std::move(looked.rows)},
      {"looked", "Charts looked at: " + grouped(looked.charts) + ", with " +
                     counted(looked.points, "point", "points") + " of " + length +
                     "; outside by chance alone: about " + by_chance +
                     ". Not looked at for want of numbers: " + grouped(looked.too_few) + "."},
      {"method",
       "Each period of " + length +
           " of this span, by the day the job was opened, against the mean of all of them: limits "
           "of three standard deviations for a count (u-chart). Looked at only with " +
           grouped(static_cast<uint64_t>(kFewestPeriods)) + " periods or more of " +
           grouped(kFewestJudged) +
           " judged or more, and a mean count of 5 or more in a period. No change shown is not "
           "shown to be unchanged; outside is not a cause: a new procedure, program or sensor "
           "moves a rate too."}};
}

}  // namespace fairlead::reports
