// Equipment, actions and head: parts (e) to (g).
#include <algorithm>
#include <tuple>

#include "daemon/base/time_text.h"
#include "reports/claim/finding_words.h"
#include "reports/summary/parts.h"

namespace fairlead::reports {
namespace {

constexpr int64_t kDay = 86'400'000'000;

struct Due {
  std::string name, words;
  int64_t at_us;
};

// Days on which a job of the span used the piece although its date had passed: by gear id.
std::map<std::string, std::set<int64_t>> days_in_use(const SummaryInput& in) {
  std::map<std::string, std::set<int64_t>> days;
  for (const auto& job : in.jobs) {
    for (const auto& gear : job.gear) days[gear].insert(job.opened_us / kDay);
  }
  return days;
}

void add_due(std::vector<Due>& all, const std::string& name, const std::string& date,
             const char* what, const std::set<int64_t>* used, const LocalTime& local,
             int64_t now_us) {
  const auto at = parse_date_us(date);
  if (!at || *at > now_us + 30 * kDay) return;
  const bool late = *at + kDay <= now_us;
  std::string words = std::string(what) + " " + local.date(*at);
  if (late) words += ", " + span_words(now_us - *at) + " ago";
  if (late && used != nullptr) {
    const auto after = static_cast<uint64_t>(
        std::ranges::count_if(*used, [&](int64_t day) { return day > *at / kDay; }));
    words += "; " + counted(after, "day", "days") + " in use out of date";
  }
  all.push_back({shortened(shown(name), 80), std::move(words), *at});
}

std::string rate_words(const RuleCount& count) {
  const Rate rate = rate_of(count);
  return fixed(rate.per_100, 2) + " per 100 (" + fixed(rate.lo, 2) + " to " + fixed(rate.hi, 2) +
         ")";
}

}  // namespace

Json due_part(const SummaryInput& in, const LocalTime& local, int64_t now_us) {
  std::vector<Due> all;
  const auto used = days_in_use(in);
  static const std::set<int64_t> kNever;
  for (const auto& gear : in.register_files.gear()) {
    if (!gear.out_of_service().empty()) continue;
    const auto it = used.find(gear.id());
    add_due(all, gear.id(), gear.inspect_by(), "to be looked at by",
            it == used.end() ? &kNever : &it->second, local, now_us);
  }
  for (const auto& sensor : in.register_files.sensor()) {
    add_due(all, sensor.id(), sensor.valid_until(), "calibration until", nullptr, local, now_us);
  }
  std::sort(all.begin(), all.end(), [](const Due& a, const Due& b) {
    return std::tie(a.at_us, a.name) < std::tie(b.at_us, b.name);
  });
  constexpr size_t kMost = 60;
  Json rows = Json::array();
  for (size_t i = 0; i < std::min(all.size(), kMost); ++i) {
    rows.push_back({{"name", all[i].name}, {"words", all[i].words}});
  }
  return {{"has_rows", !rows.empty()},
          {"rows", std::move(rows)},
          {"none", "Nothing is due within 30 days."},
          {"more", all.size() > kMost ? Json(grouped(all.size() - kMost) + " more are due.")
                                      : Json(false)}};
}

Json actions_part(const SummaryInput& in, const std::vector<RuleCount>& counts) {
  std::vector<RuleCount> worst;
  const RuleCount* gap = nullptr;
  for (const auto& count : counts) {
    if (names_people(in, count.people)) continue;
    if (count.deviated > 0 && rate_of(count).shown) worst.push_back(count);
    if (count.unproven > 0 && (gap == nullptr || count.unproven > gap->unproven)) gap = &count;
  }
  std::stable_sort(worst.begin(), worst.end(), [](const RuleCount& a, const RuleCount& b) {
    return rate_of(a).per_100 > rate_of(b).per_100;
  });
  if (worst.size() > 3) worst.resize(3);
  Json rows = Json::array();
  for (const auto& count : worst) {
    rows.push_back(
        {{"words", count.title + " (" + shown(count.procedure) + "): " + rate_words(count) + "."}});
  }
  if (rows.empty())
    rows.push_back({{"words", "No rule with enough verdicts for a rate was outside its limit."}});
  std::string gap_words = "No finding is unproven.";
  if (gap != nullptr) {
    gap_words = "Largest evidence gap: " + gap->title + " (" + shown(gap->procedure) + "), " +
                grouped(gap->unproven) + " of " + grouped(gap->all()) + " unproven";
    const auto why =
        std::max_element(gap->why.begin(), gap->why.end(),
                         [](const auto& a, const auto& b) { return a.second < b.second; });
    gap_words += why == gap->why.end() ? "." : ", mostly: " + reason_words(why->first) + ".";
  }
  std::string unseen;
  if (in.unrecorded_work.value_or(0) > 0)
    unseen = "Work sensed without a job: " + grouped(*in.unrecorded_work) +
             ". Open a job for it, or say why there was none.";
  return {{"worst", std::move(rows)},
          {"gap", gap_words},
          {"unseen", unseen.empty() ? Json(false) : Json(unseen)}};
}

Json standing_part(const SummaryInput& in) {
  constexpr size_t kMostOnPage = 200;
  const Standing& standing = in.standing;
  Json devices = Json::array(), jobs = Json::array();
  for (const auto& one : standing.devices) {
    devices.push_back({{"name", shortened(shown(one.name), 60)},
                       {"device", one.device_id},
                       {"epoch", std::to_string(one.epoch)},
                       {"seq", one.seq},
                       {"entries", grouped(one.seq)},
                       {"chain", one.chain},
                       {"chain_begins", one.chain.substr(0, 16)}});
  }
  for (size_t i = 0; i < standing.jobs.size(); ++i) {
    const auto& one = standing.jobs[i];
    jobs.push_back({{"job", one.job_id},
                    {"count", one.entries},
                    {"entries", grouped(one.entries)},
                    {"on_page", i < kMostOnPage}});
  }
  return {{"has_devices", !devices.empty()},
          {"devices", std::move(devices)},
          {"has_jobs", !jobs.empty()},
          {"jobs", std::move(jobs)},
          {"more", standing.jobs.size() > kMostOnPage
                       ? Json(grouped(standing.jobs.size() - kMostOnPage) +
                              " more jobs stand in the JSON file.")
                       : Json(false)},
          {"request", standing.request.empty() ? Json(false) : Json(standing.request)},
          {"cosigned", standing.cosigned.empty() ? Json(false) : Json(standing.cosigned)},
          {"alarm", standing.alarm.empty() ? Json(false) : Json("Alarm: " + standing.alarm + ".")}};
}

Json head_part(const SummaryInput& in, const LocalTime& local) {
  Json groups = Json::array();
  for (const auto& group : fingerprint_groups(in.record.head_root))
    groups.push_back({{"group", group}});
  const bool has_head = !groups.empty();
  return {
      {"has_head", has_head},
      {"ledger", shown(in.record.ledger)},
      {"words",
       has_head ? "Head " + grouped(in.record.head_size) +
                      (in.record.head_at_us ? " of " + local.date_clock(*in.record.head_at_us) : "")
                : "No head is signed yet"},
      {"fingerprint", std::move(groups)},
      {"countersigned",
       in.record.countersigned
           ? shown(in.record.countersigned->by) + " countersigned head " +
                 grouped(in.record.countersigned->head_size) + " on " +
                 local.date_clock(in.record.countersigned->at_us) + "."
           : "Not yet countersigned. Please countersign this head: from then on nothing "
             "older can be removed or rewritten unseen."}};
}

}  // namespace fairlead::reports
