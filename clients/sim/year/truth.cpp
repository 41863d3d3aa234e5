#include "clients/sim/year/truth.h"

#include <nlohmann/json.hpp>

#include "daemon/base/time_text.h"

namespace fairlead::sim {

void Truth::learn(size_t variant, int truck, const judge::Rulebook& rules, const Trace& trace,
                  int64_t opened_us) {
  const auto lines = trace.play("truth", opened_us, 1);
  auto& out = known_[{variant, truck}];
  out.clear();
  for (auto& finding : judge::judge_job(rules, lines, {}))
    out.emplace_back(Key{finding.procedure_id, finding.rule}, std::move(finding));
}

void Truth::count(const PlannedJob& job) {
  for (const auto& [key, finding] : known_.at({job.variant, job.truck})) {
    Counts& counts = counts_[key];
    if (finding.applies == judge::Applies::kNo) {
      ++counts.not_applicable;
    } else if (finding.applies == judge::Applies::kUnknown) {
      ++counts.unknown;
    } else if (finding.verdict == judge::Verdict::kMet) {
      ++counts.met;
    } else if (finding.verdict == judge::Verdict::kDeviated) {
      ++counts.deviated;
    } else {
      ++counts.unproven;
    }
  }
}

std::string Truth::json(const YearPlan& plan, const std::vector<PlannedJob>& jobs, uint64_t claims,
                        uint64_t sensed) const {
  nlohmann::ordered_json out;
  out["seed"] = plan.seed;
  out["from"] = format_time_us(plan.from_us);
  out["to"] = format_time_us(plan.from_us + plan.days * 86'400'000'000LL);
  out["jobs"] = jobs.size();
  out["claims"] = claims;
  out["sensed_without_a_job"] = sensed;
  auto& drawn = out["variants"] = nlohmann::ordered_json::array();
  for (size_t i = 0; i < variants().size(); ++i) {
    uint64_t count = 0;
    for (const auto& job : jobs) count += job.variant == i;
    const Variant& one = variants()[i];
    nlohmann::ordered_json verdicts;  // Of the first truck: those of the others are no different.
    for (const auto& [key, finding] : known_.at({i, 1})) {
      if (finding.applies == judge::Applies::kYes)
        verdicts[key.first + "/" + key.second] = judge::word(finding.verdict);
    }
    drawn.push_back({{"trace", one.trace},
                     {"work", one.work},
                     {"work_share", share_of_work(one)},
                     {"share", one.share},
                     {"share_late", one.share_late},
                     {"silent", one.silent},
                     {"jobs", count},
                     {"verdicts", std::move(verdicts)}});
  }
  auto& rules = out["rules"] = nlohmann::ordered_json::array();
  for (const auto& [key, counts] : counts_) {
    rules.push_back({{"procedure", key.first},
                     {"rule", key.second},
                     {"met", counts.met},
                     {"deviated", counts.deviated},
                     {"unproven", counts.unproven},
                     {"not_applicable", counts.not_applicable},
                     {"unknown", counts.unknown}});
  }
  return out.dump(1) + "\n";
}

}  // namespace fairlead::sim
