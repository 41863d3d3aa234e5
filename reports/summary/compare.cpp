// This span against the one of equal length before it, rule by rule, where that is fair.
//
// Unfair, and then not compared: another text of the procedure; people or verdicts too few; a share
// of unproven, or of measured among the judged, that moved by more than five points (better eyes
// find more): that five is our choice, no source. p is that of the exact conditional test of two
// Poisson rates (physics/statistics.h); 0.05 is custom.
#include <algorithm>
#include <cmath>

#include "daemon/physics/statistics.h"
#include "reports/summary/parts.h"

namespace fairlead::reports {
namespace {

constexpr int64_t kDay = 86'400'000'000;
constexpr double kMostMoved = 0.05, kSmallest_p = 0.05;

double share(uint64_t part, uint64_t whole) {
  return whole == 0 ? 0 : static_cast<double>(part) / static_cast<double>(whole);
}

std::string unfair(const SummaryInput& in, const RuleCount& now, const RuleCount* before) {
  if (before == nullptr || before->judged() < kFewestJudged || now.judged() < kFewestJudged)
    return "fewer than 20 judged";
  if (names_people(in, now.people) || names_people(in, before->people))
    return "fewer than 5 people";
  if (now.texts != before->texts) return "the procedure's text changed";
  if (std::abs(share(now.unproven, now.all()) - share(before->unproven, before->all())) >
      kMostMoved)
    return "the share of unproven moved by more than 5 points: the record itself changed";
  if (std::abs(share(now.measured, now.judged()) - share(before->measured, before->judged())) >
      kMostMoved)
    return "the share of measured moved by more than 5 points: better eyes find more";
  return "";
}

std::string rate_text(uint64_t events, uint64_t exposure, double scale) {
  const auto interval = physics::poisson_interval(events);
  const auto n = static_cast<double>(exposure);
  return fixed(scale * static_cast<double>(events) / n, 2) + " (" +
         fixed(scale * interval.lo / n, 2) + " to " + fixed(scale * interval.hi / n, 2) + ")";
}

struct Pair {
  uint64_t now = 0, now_of = 0, before = 0, before_of = 0;
};

Json fair_row(const std::string& what, const Pair& pair, double scale, uint64_t& small) {
  const double p = physics::compare_rates(pair.now, static_cast<double>(pair.now_of), pair.before,
                                          static_cast<double>(pair.before_of));
  const bool differs = p < kSmallest_p;
  small += differs;
  const bool more = share(pair.now, pair.now_of) > share(pair.before, pair.before_of);
  const std::string p_text = p < 0.001 ? "below 0.001" : fixed(p, p < 0.1 ? 3 : 2);
  return {{"what", what},
          {"now", rate_text(pair.now, pair.now_of, scale)},
          {"before", rate_text(pair.before, pair.before_of, scale)},
          {"p", p_text},
          {"words", (differs ? std::string(more ? "more" : "fewer") : "no change shown") +
                        (p < 0.001 ? ", p " : ", p = ") + p_text}};
}

// Claims at equal age: only where every job of both spans is 90 days old.
std::optional<Json> claims_row(const SummaryInput& in, const std::vector<SummaryJob>& past,
                               int64_t past_from_us, int64_t now_us, uint64_t& small) {
  if (in.to_us + 90 * kDay > now_us || past.size() < kFewestJudged ||
      in.jobs.size() < kFewestJudged)
    return std::nullopt;
  const auto young = [](const SummaryClaim& claim) {
    return claim.received_us <= claim.job_opened_us + 90 * kDay;
  };
  const Pair pair{
      static_cast<uint64_t>(std::ranges::count_if(in.claims, young)), in.jobs.size(),
      static_cast<uint64_t>(std::ranges::count_if(
          in.past_claims,
          [&](const auto& one) { return one.job_opened_us >= past_from_us && young(one); })),
      past.size()};
  return fair_row("Claims within 90 days, per 100 jobs", pair, 100, small);
}

}  // namespace

Json compare_part(const SummaryInput& in, const std::vector<RuleCount>& counts, int64_t now_us) {
  const int64_t begin_us = in.from_us - (in.to_us - in.from_us);
  std::vector<SummaryJob> past;
  std::ranges::copy_if(in.past, std::back_inserter(past),
                       [&](const SummaryJob& job) { return job.opened_us >= begin_us; });
  const bool whole = in.past_from_us <= begin_us;
  const auto before = count_rules(past);
  Json rows = Json::array(), left_out = Json::array();
  uint64_t small = 0;
  for (const auto& now : counts) {
    if (now.all() == 0) continue;
    const auto same = std::ranges::find_if(before, [&](const RuleCount& one) {
      return one.procedure == now.procedure && one.rule == now.rule;
    });
    const RuleCount* other = same == before.end() ? nullptr : &*same;
    const std::string what = now.title + " (" + shown(now.procedure) + ")";
    if (const std::string why = unfair(in, now, other); !why.empty()) {
      left_out.push_back({{"what", what}, {"why", why}});
      continue;
    }
    rows.push_back(
        fair_row(what, {now.deviated, now.judged(), other->deviated, other->judged()}, 100, small));
  }
  if (whole) {
    if (auto claims = claims_row(in, past, begin_us, now_us, small)) rows.push_back(*claims);
  }
  const size_t looked = rows.size();
  const bool any = whole && !past.empty();
  if (!any) rows = Json::array();
  std::map<std::string, uint64_t> reasons;
  for (const auto& one : left_out) ++reasons[one.at("why").get<std::string>()];
  Json why = Json::array();
  for (const auto& [reason, count] : reasons)
    why.push_back({{"words", counted(count, "rule", "rules") + ": " + reason}});
  return {
      {"has_rows", !rows.empty()},
      {"rows", std::move(rows)},
      {"none", any ? "Nothing could be compared fairly."
                   : "The span before is not on record, so nothing is compared."},
      {"has_why", any && !why.empty()},
      {"why", std::move(why)},
      {"left_out", any ? std::move(left_out) : Json::array()},
      {"looked", "Compared: " + grouped(any ? looked : 0) + "; by chance alone about " +
                     fixed(any ? static_cast<double>(looked) * kSmallest_p : 0.0, 1) +
                     " would show p below 0.05; shown here: " + grouped(any ? small : 0) + "."}};
}

}  // namespace fairlead::reports
