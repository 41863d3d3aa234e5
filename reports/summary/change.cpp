// Change over the span: each rule, and claims, period by period, against the fleet's own past.
//
// Periods are equal and whole, counted from the span's first moment; the rest at its end is left
// out. Their length follows from the span's length alone, never from what was counted. The centre
// is the rate of the year before the span where that holds enough, else the span's own mean (then
// twelve periods are the fewest: our choice, no source; NIST's own worked chart has 25). That a
// mean count of 5 is the smallest is NIST/SEMATECH e-Handbook 6.3.3.1 (u_chart_usable). EWMA and
// CUSUM take each period as (rate - centre) / sqrt(centre / exposure): weight 0.3 and three sigma
// as in 6.3.2.4; allowance 0.5 and limit 5, whose average run without a change is about 465 points
// (Montgomery, Lucas; read in a secondary source).
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "daemon/physics/control_charts.h"
#include "daemon/physics/statistics.h"
#include "reports/summary/parts.h"

namespace fairlead::reports {
namespace {

constexpr int64_t kDay = 86'400'000'000;
constexpr int64_t kClaimAgeDays = 90;
constexpr int64_t kFewestPeriods = 12;
constexpr double kFewestInPast = 25;         // Deviations or claims; our choice: centre to a fifth.
constexpr double kOutsideByChance = 0.0027;  // Of a point beyond three sigma, normal distribution.
constexpr double kRunByChance = 465;         // Points between false alarms of the CUSUM.
constexpr double kWeight = 0.3, kAllowance = 0.5, kDecision = 5;
constexpr size_t kMostDrawn = 6;

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

struct Cell {
  uint64_t events = 0, exposure = 0;
  std::set<std::string> people;
};
struct Series {
  std::string what, per;
  double scale = 100;       // Rates are printed per so many.
  std::vector<Cell> cells;  // One a period.
  Cell past;
};

void add_verdict(const SummaryFinding& f, const SummaryJob& job, Cell& cell) {
  if (f.applies != judge::Applies::kYes) return;
  const bool deviated = f.verdict == judge::Verdict::kDeviated;
  if (!deviated && f.verdict != judge::Verdict::kMet) return;
  cell.events += deviated;
  ++cell.exposure;
  cell.people.insert(job.people.begin(), job.people.end());
}

std::vector<Series> deviation_series(const SummaryInput& in, const Periods& periods) {
  std::map<std::pair<std::string, std::string>, Series> all;
  const auto series = [&](const SummaryFinding& f) -> Series& {
    Series& one = all[{f.name->procedure, f.name->rule}];
    if (one.cells.empty()) {
      one.what = f.name->title + " (" + shown(f.name->procedure) + ")";
      one.per = "100 judged";
      one.cells.resize(periods.size());
    }
    return one;
  };
  for (const auto& job : in.jobs) {
    const auto at = periods.of(job.opened_us);
    if (!at) continue;
    for (const auto& f : job.findings) add_verdict(f, job, series(f).cells[*at]);
  }
  for (const auto& job : in.past) {
    for (const auto& f : job.findings) add_verdict(f, job, series(f).past);
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
  out.cells.resize(periods.size());
  const auto cell_of = [&](int64_t opened_us) -> Cell* {
    if (opened_us < in.from_us)
      return opened_us + kClaimAgeDays * kDay <= now_us ? &out.past : nullptr;
    const auto at = periods.of(opened_us);
    const bool old_enough = at && periods.begin_us(*at + 1) + kClaimAgeDays * kDay <= now_us;
    return old_enough ? &out.cells[*at] : nullptr;
  };
  for (const auto* jobs : {&in.jobs, &in.past}) {
    for (const auto& job : *jobs) {
      Cell* cell = cell_of(job.opened_us);
      if (cell == nullptr) continue;
      ++cell->exposure;
      cell->people.insert(job.people.begin(), job.people.end());
    }
  }
  for (const auto* claims : {&in.claims, &in.past_claims}) {
    for (const auto& claim : *claims) {
      Cell* cell = cell_of(claim.job_opened_us);
      if (cell != nullptr && claim.received_us <= claim.job_opened_us + kClaimAgeDays * kDay)
        ++cell->events;
    }
  }
  return out;
}

struct Looked {
  Json rows = Json::array();
  Json charts = Json::array();
  uint64_t series = 0, points = 0, too_few = 0;
};

// What can be charted of a series.
struct Points {
  std::vector<double> counts, exposures;
  std::vector<size_t> which;
  double centre = 0;
  bool by_past = false;
};

// Periods of fewer than kFewestJudged, or of few people, are left out: no rate is printed on them.
std::optional<Points> points_of(const SummaryInput& in, const Series& series) {
  Points out;
  double events = 0, exposure = 0;
  for (size_t i = 0; i < series.cells.size(); ++i) {
    const Cell& cell = series.cells[i];
    if (cell.exposure < kFewestJudged || names_people(in, cell.people)) continue;
    out.counts.push_back(static_cast<double>(cell.events));
    out.exposures.push_back(static_cast<double>(cell.exposure));
    out.which.push_back(i);
    events += out.counts.back();
    exposure += out.exposures.back();
  }
  out.by_past = static_cast<double>(series.past.events) >= kFewestInPast &&
                !names_people(in, series.past.people);
  if (out.which.empty()) return std::nullopt;
  if (!out.by_past && out.which.size() < static_cast<size_t>(kFewestPeriods)) return std::nullopt;
  out.centre = out.by_past ? static_cast<double>(series.past.events) /
                                 static_cast<double>(series.past.exposure)
                           : events / exposure;
  const double mean_exposure = exposure / static_cast<double>(out.which.size());
  if (out.centre * mean_exposure < 5) return std::nullopt;
  return out;
}

struct Signals {
  std::vector<physics::ChartPoint> u;
  std::vector<double> smooth;  // The EWMA, back in rates.
  std::optional<size_t> ewma_out, cusum_out;
};

Result<Signals> signals_of(const Points& points) {
  Signals out;
  std::vector<double> z;
  for (size_t i = 0; i < points.which.size(); ++i) {
    const auto limits = physics::u_chart_limits(points.centre, points.exposures[i]);
    const double rate = points.counts[i] / points.exposures[i];
    out.u.push_back({rate, limits.lo, limits.hi, rate < limits.lo || rate > limits.hi});
    z.push_back((rate - points.centre) / std::sqrt(points.centre / points.exposures[i]));
  }
  const auto ewma = physics::ewma_chart(z, {.target = 0, .sd = 1, .lambda = kWeight, .k = 3});
  if (!ewma) return std::unexpected(ewma.error());
  const auto sums = physics::cusum(z, {.target = 0, .k = kAllowance, .h = kDecision});
  if (!sums) return std::unexpected(sums.error());
  for (size_t i = 0; i < z.size(); ++i) {
    out.smooth.push_back(points.centre +
                         ewma->points[i].value * std::sqrt(points.centre / points.exposures[i]));
  }
  out.ewma_out = ewma->first_out;
  out.cusum_out = sums->first_out;
  return out;
}

Json chart_of(const Series& series, const Points& points, const Signals& signals,
              const Periods& periods, const LocalTime& local) {
  Json drawn = Json::array();
  double most = 0;
  for (size_t i = 0; i < signals.u.size(); ++i) {
    const auto& u = signals.u[i];
    const double scale = series.scale;
    most = std::max({most, scale * u.value, scale * u.hi});
    drawn.push_back({{"slot", points.which[i]},
                     {"from", local.date(periods.begin_us(points.which[i]))},
                     {"value", scale * u.value},
                     {"lo", scale * u.lo},
                     {"hi", scale * u.hi},
                     {"smooth", scale * signals.smooth[i]},
                     {"out", u.out}});
  }
  return {{"title", series.what + ", per " + series.per},
          {"slots", periods.size()},
          {"centre", series.scale * points.centre},
          {"top", most},
          {"by_past", points.by_past},
          {"first", local.date(periods.begin_us(0))},
          {"last", local.date(periods.begin_us(periods.size()) - 1)},
          {"points", std::move(drawn)}};
}

std::string outside_words(const Series& series, const Points& points, const Signals& signals,
                          const Periods& periods, const LocalTime& local, Json& outside) {
  const auto date = [&](size_t i) { return local.date(periods.begin_us(points.which[i])); };
  for (size_t i = 0; i < signals.u.size(); ++i) {
    const auto& point = signals.u[i];
    if (!point.out) continue;
    outside.push_back(date(i) + ": " + fixed(series.scale * point.value, 1) + ", limits " +
                      fixed(series.scale * point.lo, 1) + " to " +
                      fixed(series.scale * point.hi, 1));
  }
  std::string words;
  if (!outside.empty())
    words = fmt::format("outside, from {}",
                        fmt::join(outside.get<std::vector<std::string>>(), "; from "));
  const auto add = [&](const std::optional<size_t>& first, const char* what) {
    if (first)
      words +=
          (words.empty() ? "" : "; ") + std::string(what) + " from the period of " + date(*first);
  };
  add(signals.ewma_out, "the running mean (EWMA) is outside");
  add(signals.cusum_out, "the running sum (CUSUM) is outside");
  return words.empty() ? "no change shown" : words;
}

Status look_at(const SummaryInput& in, const Series& series, const Periods& periods,
               const LocalTime& local, Looked& out) {
  const auto points = points_of(in, series);
  if (!points) {
    ++out.too_few;
    return {};
  }
  const auto signals = signals_of(*points);
  if (!signals) return std::unexpected(signals.error());
  ++out.series;
  out.points += points->which.size();
  Json outside = Json::array();
  const std::string words = outside_words(series, *points, *signals, periods, local, outside);
  out.rows.push_back({{"what", series.what},
                      {"per", series.per},
                      {"periods", grouped(points->which.size())},
                      {"mean", fixed(series.scale * points->centre, 1)},
                      {"against", points->by_past ? "the past" : "this span"},
                      {"outside", std::move(outside)},
                      {"words", words}});
  // Those that stand out are drawn first; the others as room is left.
  Json chart = chart_of(series, *points, *signals, periods, local);
  chart["alt"] = chart["title"].get<std::string>() + ": " + words;
  const bool stands_out = words != "no change shown";
  out.charts.insert(stands_out ? out.charts.begin() : out.charts.end(), std::move(chart));
  return {};
}

}  // namespace

Result<Json> change_part(const SummaryInput& in, const LocalTime& local, int64_t now_us) {
  const Periods periods = periods_of(in);
  auto all = deviation_series(in, periods);
  all.push_back(claim_series(in, periods, now_us));
  Looked looked;
  for (const auto& series : all) {
    if (auto ok = look_at(in, series, periods, local, looked); !ok)
      return std::unexpected(ok.error());
  }
  while (looked.charts.size() > kMostDrawn) looked.charts.erase(looked.charts.size() - 1);
  const std::string length = grouped(static_cast<uint64_t>(periods.days)) + " days";
  const auto points = static_cast<double>(looked.points);
  const std::string by_chance = fixed(points * kOutsideByChance, 1);
  return Json{
      {"has_rows", !looked.rows.empty()},
      {"rows", std::move(looked.rows)},
      {"charts", std::move(looked.charts)},
      {"looked", "Charts looked at: " + grouped(looked.series) + " of each kind, with " +
                     counted(looked.points, "point", "points") + " of " + length +
                     "; outside by chance alone: about " + by_chance + " points, and about " +
                     fixed(2 * points / kRunByChance, 1) +
                     " running means or sums. Not looked at for want of numbers: " +
                     grouped(looked.too_few) + "."},
      {"method",
       "Each period of " + length +
           " of this span, by the day the job was opened, against the fleet's own past (the year "
           "before, where it holds " +
           fixed(kFewestInPast, 0) + " deviations or more; else the mean of this span, with " +
           grouped(static_cast<uint64_t>(kFewestPeriods)) +
           " periods or more): limits of three standard deviations for a count (u-chart), a "
           "running mean of weight 0.3 (EWMA) and a running sum (CUSUM). Only periods of " +
           grouped(kFewestJudged) +
           " judged or more, and a mean count of 5 or more in a period. No change shown is not "
           "shown to be unchanged; outside is not a cause: a new procedure, program or sensor "
           "moves a rate too."}};
}

}  // namespace fairlead::reports
