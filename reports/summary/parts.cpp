// Completeness, exposure and deviations: parts (a) to (c).
#include "reports/summary/parts.h"

#include <algorithm>
#include <cmath>

#include "reports/charts/plot.h"
#include "reports/claim/finding_words.h"

namespace fairlead::reports {
namespace {

std::string percent(uint64_t part, uint64_t whole) {
  if (whole == 0) return "-";
  return fixed(100.0 * static_cast<double>(part) / static_cast<double>(whole), 1) + " %";
}

Json row(const std::string& name, const std::string& figure, const std::string& words = "") {
  return {{"name", name}, {"figure", figure}, {"words", words.empty() ? Json(false) : Json(words)}};
}

struct BasisCount {
  uint64_t measured = 0, pictured = 0, said = 0, unproven = 0, all = 0;
  std::map<judge::Reason, uint64_t> why;
};

BasisCount count_basis(const std::vector<SummaryJob>& jobs) {
  BasisCount out;
  for (const auto& job : jobs) {
    for (const auto& f : job.findings) {
      if (f.applies != judge::Applies::kYes) continue;
      ++out.all;
      if (f.verdict == judge::Verdict::kUnproven) {
        ++out.unproven;
        ++out.why[f.reason];
      } else if (f.basis == judge::Basis::kMeasured) {
        ++out.measured;
      } else if (f.basis == judge::Basis::kPictured) {
        ++out.pictured;
      } else {
        ++out.said;
      }
    }
  }
  return out;
}

// What a rule's rate is counted per; never simply "jobs" where only some jobs could break it.
std::string counted_per(const RuleCount& count) {
  const auto is_any = [&](std::initializer_list<const char*> all) {
    return std::any_of(all.begin(), all.end(), [&](const char* id) {
      return count.rule == id || count.rule.starts_with(std::string(id) + ".");
    });
  };
  if (is_any({"distance", "speed", "rolls_freely", "taut"})) return "handlings on own wheels";
  if (count.procedure == "boost" && !is_any({"photos_before", "identity_before_touch"}))
    return "terminal connections";
  if (is_any({"strength", "not_line_alone"})) return "loaded departures";
  if (is_any({"photos_before", "custody_unbroken"})) return "takings of custody";
  return "jobs where it applies";
}

// A rule whose few people would be named by its figures: only that it is there.
Json hidden_row(const RuleCount& count) {
  Json out = {{"procedure", shown(count.procedure)},
              {"rule", shown(count.rule)},
              {"title", count.title},
              {"per", counted_per(count)},
              {"rate_words", "fewer than 5 people"},
              {"bounds_words", "-"}};
  for (const char* key : {"met", "deviated", "unproven", "doubtful", "not_applicable", "judged",
                          "rate", "lo", "hi", "all_good", "all_bad"})
    out[key] = "-";
  return out;
}

Json rule_row(const RuleCount& count) {
  const Rate rate = rate_of(count);
  const auto text = [](bool has, double value, int places) {
    return has ? fixed(value, places) : std::string("-");
  };
  Json out = {{"procedure", shown(count.procedure)},
              {"rule", shown(count.rule)},
              {"title", count.title},
              {"per", counted_per(count)},
              {"met", grouped(count.met)},
              {"deviated", grouped(count.deviated)},
              {"unproven", grouped(count.unproven)},
              {"doubtful", grouped(count.doubtful)},
              {"not_applicable", grouped(count.not_applicable)},
              {"judged", grouped(count.judged())},
              {"rate", text(rate.shown, rate.per_100, 2)},
              {"lo", text(rate.shown, rate.lo, 2)},
              {"hi", text(rate.shown, rate.hi, 2)},
              {"all_good", text(rate.bounded, rate.all_good, 1)},
              {"all_bad", text(rate.bounded, rate.all_bad, 1)}};
  out["rate_words"] = rate.shown
                          ? out["rate"].get<std::string>() + " (" + out["lo"].get<std::string>() +
                                " to " + out["hi"].get<std::string>() + ")"
                          : "too few judged";
  out["bounds_words"] =
      rate.bounded ? out["all_good"].get<std::string>() + " to " + out["all_bad"].get<std::string>()
                   : "too few";
  return out;
}

Json chart_of(const std::vector<RuleCount>& counts) {
  double most = 1;
  Json rows = Json::array();
  for (const auto& count : counts) {
    if (count.all() == 0 || (count.deviated == 0 && count.unproven == 0)) continue;
    const Rate rate = rate_of(count);
    if (!rate.bounded) continue;
    most = std::max({most, rate.all_bad, rate.shown ? rate.hi : 0.0});
    rows.push_back({{"label", shortened(shown(count.procedure) + " " + shown(count.rule), 28)},
                    {"text", fixed(rate.all_good, 1) + " to " + fixed(rate.all_bad, 1)},
                    {"has_rate", rate.shown},
                    {"rate", rate.per_100},
                    {"lo", rate.lo},
                    {"hi", rate.hi},
                    {"good", rate.all_good},
                    {"bad", rate.all_bad}});
  }
  Json steps = Json::array();
  for (const double at : ticks(0, most)) {
    steps.push_back({{"x", at}, {"label", fixed(at, at == std::floor(at) ? 0 : 1)}});
  }
  const size_t drawn = rows.size();
  return {{"alt",
           "Deviations per hundred for " + count_word(drawn) + (drawn == 1 ? " rule" : " rules")},
          {"x1", most},
          {"ticks", std::move(steps)},
          {"rows", std::move(rows)}};
}

}  // namespace

Json completeness_part(const SummaryInput& in) {
  const auto closed = static_cast<uint64_t>(std::count_if(
      in.jobs.begin(), in.jobs.end(), [](const SummaryJob& job) { return job.complete; }));
  const BasisCount basis = count_basis(in.jobs);
  Json rows = Json::array();
  rows.push_back(row("Jobs invoiced", in.jobs_invoiced ? grouped(*in.jobs_invoiced) : "not stated",
                     "the owner's own count"));
  const std::string share =
      in.jobs_invoiced ? percent(in.jobs.size(), *in.jobs_invoiced) + " of those invoiced" : "";
  rows.push_back(row("Jobs opened on record", grouped(in.jobs.size()), share));
  rows.push_back(row(
      "Work sensed without a job",
      in.unrecorded_work ? grouped(*in.unrecorded_work) : "not counted",
      "line pulling, rope running, deck tilting or source giving current while no job was open; "
      "pieces at most 5 min apart count as one"));
  rows.push_back(row("Jobs closed complete", grouped(closed),
                     percent(closed, in.jobs.size()) +
                         " of those opened; no entry missing, every finding settled"));
  Json shares = Json::array();
  shares.push_back(row("measured", grouped(basis.measured), percent(basis.measured, basis.all)));
  shares.push_back(row("pictured", grouped(basis.pictured), percent(basis.pictured, basis.all)));
  shares.push_back(row("said", grouped(basis.said), percent(basis.said, basis.all)));
  shares.push_back(row("unproven", grouped(basis.unproven), percent(basis.unproven, basis.all)));
  Json why = Json::array();
  for (const auto& [reason, count] : basis.why)
    why.push_back(row(reason_words(reason), grouped(count)));
  return {{"rows", std::move(rows)},
          {"findings", grouped(basis.all) + " findings where the rule applied"},
          {"shares", std::move(shares)},
          {"has_why", !why.empty()},
          {"why", std::move(why)}};
}

bool names_people(const SummaryInput& in, const std::set<std::string>& people) {
  return !in.own_copy && people.size() < kFewestPeople;
}

Json exposure_part(const SummaryInput& in) {
  uint64_t handlings = 0;
  uint64_t connections = 0;
  uint64_t departures = 0;
  uint64_t takings = 0, warnings = 0, heeded = 0, measured = 0, unmeasured = 0;
  double km = 0, bay_days = 0;
  for (const auto& job : in.jobs) {
    warnings += job.warnings;
    heeded += job.heeded;
    km += job.loaded_km.value_or(0);
    measured += job.loaded_km.has_value();
    unmeasured += job.departures > 0 && !job.loaded_km;
    bay_days += job.bay_days;
    handlings += job.handlings;
    connections += job.connections;
    departures += job.departures;
    takings += job.takings;
  }
  Json rows = Json::array();
  rows.push_back(row("Jobs", grouped(in.jobs.size())));
  rows.push_back(
      row("Handlings on own wheels", grouped(handlings), "stretches in free-rolling mode"));
  rows.push_back(row("Terminal connections", grouped(connections), "both clamps on at the car"));
  rows.push_back(
      row("Loaded departures", grouped(departures),
          "truck moved off with the car aboard; where only its receiver tells, once a carrying"));
  rows.push_back(row("Takings of custody", grouped(takings)));
  rows.push_back(row("Loaded kilometres", fixed(km, 0),
                     "by the receiver's own speeds, on " + counted(measured, "job", "jobs") + "; " +
                         counted(unmeasured, "job", "jobs") +
                         " with a loaded departure and no speeds"));
  rows.push_back(row("Bay-days in the lot", fixed(bay_days, 1)));
  rows.push_back(row("Warnings given", grouped(warnings)));
  rows.push_back(row(
      "Warnings heeded", grouped(heeded),
      percent(heeded, warnings) + " of those given; heeded: the rule did not deviate in the end"));
  return {{"rows", std::move(rows)}};
}

Json deviations_part(const SummaryInput& in, const std::vector<RuleCount>& counts) {
  Json rows = Json::array();
  uint64_t judged = 0;
  for (const auto& count : counts) {
    judged += count.judged();
    if (count.all() + count.doubtful == 0) continue;
    rows.push_back(names_people(in, count.people) ? hidden_row(count) : rule_row(count));
  }
  std::vector<RuleCount> drawable = counts;
  std::erase_if(drawable, [&](const auto& one) { return names_people(in, one.people); });
  Json chart = chart_of(drawable);
  const bool drawn = !chart["rows"].empty();
  return {
      {"has_rows", !rows.empty()},
      {"rows", std::move(rows)},
      {"has_chart", drawn},
      {"chart", std::move(chart)},
      {"gloss",
       "deviated: outside the limit. unproven: not shown by the record. met: inside the limit."},
      {"method",
       "Rate: deviated per 100 judged, with the exact 95 % interval for a count (Garwood). Bounds: "
       "the "
       "rate if every unproven one were good, or every one bad. No rate is printed on fewer than " +
           grouped(kFewestJudged) + " judged, no bounds on fewer than " + grouped(kFewestJudged) +
           " judged and unproven together: too few to say. " +
           (in.own_copy ? std::string("The owner's own copy: figures of fewer than 5 people are "
                                      "shown; not for sending.")
                        : "No figure is printed where fewer than " + grouped(kFewestPeople) +
                              " people did the work: it would name them.")},
      {"false_words", "Looked at: " + counted(counts.size(), "rule", "rules") + ", " +
                          counted(judged, "verdict", "verdicts") +
                          ". Even with all work exactly at its limit, about " +
                          fixed(static_cast<double>(judged) * 0.05, 1) +
                          " verdicts (5 %) would be called deviated by chance."}};
}

}  // namespace fairlead::reports
