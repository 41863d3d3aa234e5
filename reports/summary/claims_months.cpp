// Claims by month of the job, at equal age, and what became of them: part (d).
#include <algorithm>
#include <cmath>

#include "daemon/physics/statistics.h"
#include "reports/summary/parts.h"

namespace fairlead::reports {
namespace {

constexpr int64_t kDay = 86'400'000'000;
constexpr int kAges[] = {90, 180, 365};

bool within(const SummaryClaim& claim, int days) {
  return claim.received_us <= claim.job_opened_us + days * kDay;
}

std::string interval_words(uint64_t events, double exposure, double scale) {
  const auto interval = physics::poisson_interval(events);
  const auto per = [&](double count) { return fixed(scale * count / exposure, 1); };
  return per(static_cast<double>(events)) + " (" + per(interval.lo) + " to " + per(interval.hi) +
         ")";
}

// At equal age: only claims received, and only jobs old enough, within so many days of the job.
Json age_rows(const SummaryInput& in, int64_t now_us) {
  Json rows = Json::array();
  for (const int days : kAges) {
    uint64_t jobs = 0, claims = 0;
    for (const auto& job : in.jobs) jobs += job.opened_us + days * kDay <= now_us;
    for (const auto& claim : in.claims)
      claims += claim.job_opened_us + days * kDay <= now_us && within(claim, days);
    rows.push_back(
        {{"age", grouped(static_cast<uint64_t>(days)) + " days"},
         {"jobs", grouped(jobs)},
         {"claims", grouped(claims)},
         {"rate", jobs < kFewestJudged ? std::string("too few jobs of that age")
                                       : interval_words(claims, static_cast<double>(jobs), 1000)}});
  }
  return rows;
}

struct Month {
  int64_t last_us = 0;  // Of its jobs in this span.
  uint64_t jobs = 0;
  std::set<std::string> people;
  uint64_t within[3] = {0, 0, 0};
  uint64_t state[4] = {0, 0, 0, 0};
};

// "2 Mar 2026" -> "Mar 2026", in the order of time.
std::string month_of(const LocalTime& local, int64_t time_us) {
  const std::string day = local.date(time_us);
  return day.substr(day.find(' ') + 1);
}

std::vector<std::pair<std::string, Month>> months_of(const SummaryInput& in,
                                                     const LocalTime& local) {
  std::vector<const SummaryJob*> jobs;
  for (const auto& job : in.jobs) jobs.push_back(&job);
  std::ranges::stable_sort(jobs, {}, &SummaryJob::opened_us);
  std::vector<std::pair<std::string, Month>> out;
  std::map<std::string, size_t> at;
  for (const SummaryJob* job : jobs) {
    const std::string name = month_of(local, job->opened_us);
    const auto [it, fresh] = at.try_emplace(name, out.size());
    if (fresh) out.emplace_back(name, Month{});
    Month& month = out[it->second].second;
    ++month.jobs;
    month.last_us = job->opened_us;
    month.people.insert(job->people.begin(), job->people.end());
  }
  for (const auto& claim : in.claims) {
    const auto it = at.find(month_of(local, claim.job_opened_us));
    if (it == at.end()) continue;
    Month& month = out[it->second].second;
    for (size_t i = 0; i < 3; ++i) month.within[i] += within(claim, kAges[i]);
    ++month.state[static_cast<size_t>(claim.state)];
  }
  return out;
}

Json month_rows(const SummaryInput& in, const LocalTime& local, int64_t now_us) {
  Json rows = Json::array();
  for (const auto& [name, month] : months_of(in, local)) {
    const bool hidden = names_people(in, month.people);
    const auto text = [&](uint64_t count) { return hidden ? std::string("-") : grouped(count); };
    Json row = {{"month", name}, {"jobs", grouped(month.jobs)}, {"hidden", hidden}};
    for (size_t i = 0; i < 3; ++i) {
      const bool old = month.last_us + kAges[i] * kDay <= now_us;
      row["d" + std::to_string(kAges[i])] = old || hidden ? text(month.within[i]) : "too young";
    }
    const char* states[] = {"open", "paid", "declined", "withdrawn"};
    for (size_t i = 0; i < 4; ++i) row[states[i]] = text(month.state[i]);
    rows.push_back(std::move(row));
  }
  return rows;
}

// "1,250.50": a comma parts groups of three digits, or the number is not read ("1.250,50").
std::optional<double> amount_of(const std::string& text) {
  const size_t point = text.find('.');
  std::string digits;
  for (size_t i = 0; i < text.size(); ++i) {
    if (text[i] != ',') {
      digits += text[i];
      continue;
    }
    const size_t end = point == std::string::npos ? text.size() : point;
    if (i == 0 || i >= end || (end - i) % 4 != 0) return std::nullopt;
  }
  return read_number(digits);
}

// Sums a currency at a time; what does not read as "1250.00 EUR" is counted, never guessed.
std::string paid_words(const SummaryInput& in) {
  std::map<std::string, double> sums;
  uint64_t unread = 0, paid = 0;
  for (const auto& claim : in.claims) {
    if (claim.state != ClaimState::kPaid) continue;
    ++paid;
    const size_t space = claim.paid.rfind(' ');
    const auto amount = space == std::string::npos ? std::optional<double>()
                                                   : amount_of(claim.paid.substr(0, space));
    if (amount) {
      sums[claim.paid.substr(space + 1)] += *amount;
    } else {
      ++unread;
    }
  }
  if (paid == 0) return "Nothing was paid so far.";
  std::vector<std::string> words;
  for (const auto& [currency, sum] : sums) {
    words.push_back(grouped(static_cast<uint64_t>(std::llround(sum))) + " " + shown(currency));
  }
  std::string out = "Paid so far on " + counted(paid, "claim", "claims") + ": " +
                    (words.empty() ? "no sum stated" : listed(words));
  if (unread > 0 && !words.empty())
    out += "; " + counted(unread, "claim", "claims") + " without a sum";
  return out + ".";
}

struct Class {
  const char* what;
  const char* per;
  double scale;
  std::vector<std::string_view> kinds;  // Of the allegation table.
  double exposure;
};

// Harm on the road per kilometre, harm in the lot per bay-day: neither per job.
Json class_rows(const SummaryInput& in) {
  double km = 0, bay_days = 0;
  for (const auto& job : in.jobs) {
    km += job.loaded_km.value_or(0);
    bay_days += job.bay_days;
  }
  Json rows = Json::array();
  for (const Class& one : {Class{"On the road (shifted, strap damage, fell)",
                                 "100,000 loaded km",
                                 100'000,
                                 {"shifted"},
                                 km},
                           Class{"In the lot (harm, things missing)",
                                 "1,000 bay-days",
                                 1000,
                                 {"lot_damage", "missing"},
                                 bay_days}}) {
    const auto hits = static_cast<uint64_t>(std::ranges::count_if(in.claims, [&](const auto& c) {
      return std::ranges::any_of(c.kinds, [&](const std::string& kind) {
        return std::ranges::find(one.kinds, kind) != one.kinds.end();
      });
    }));
    const bool enough = one.exposure >= one.scale / 100;
    rows.push_back({{"what", one.what},
                    {"claims", grouped(hits)},
                    {"exposure", fixed(one.exposure, 0)},
                    {"per", one.per},
                    {"rate", enough ? interval_words(hits, one.exposure, one.scale)
                                    : std::string("too little measured")}});
  }
  return rows;
}

}  // namespace

Json claims_part(const SummaryInput& in, const LocalTime& local, int64_t now_us) {
  Json months = month_rows(in, local, now_us);
  return {
      {"count", counted(in.claims.size(), "claim", "claims") + " so far against jobs of this span"},
      {"rows", age_rows(in, now_us)},
      {"has_months", !months.empty()},
      {"months", std::move(months)},
      {"paid", paid_words(in)},
      {"classes", class_rows(in)},
      {"method",
       "By the month of the job, not of the claim's arrival, and at equal age: claims received "
       "within so many days of their job, of jobs that are that old. Too young: not all of the "
       "month's jobs are. States are those of today."}};
}

}  // namespace fairlead::reports
