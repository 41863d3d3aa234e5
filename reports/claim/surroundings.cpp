// What stands around the job: its files and since when they were on record, the truck's other work,
// and how it would come out under other rules.
#include <algorithm>

#include "reports/claim/parts.h"

namespace fairlead::reports {
namespace {

Json word_rows(const std::vector<std::string>& all) {
  Json rows = Json::array();
  for (const auto& words : all) rows.push_back({{"words", shown(words)}});
  return rows;
}

}  // namespace

std::string since_words(const ClaimInput& in, const FileInForce& file, bool with_clock) {
  if (!file.since_us) return "when it was put on record is not known";
  const std::string at =
      with_clock ? in.local.date_clock(*file.since_us) : in.local.date(*file.since_us);
  if (!in.facts.opened) return "on record since " + at;
  const int64_t lead = *in.facts.opened - *file.since_us;
  if (lead >= 0) return "on record since " + at + ", " + span_words(lead) + " before the job";
  return "put on record " + span_words(-lead) + " after the job, on " + at;
}

Json files_rows(const ClaimInput& in) {
  Json rows = Json::array();
  for (const auto& file : in.record.files) {
    std::string words = shown(file.id) + (file.version.empty() ? "" : " " + shown(file.version));
    words += ", " + since_words(in, file, true);
    if (file.leaf) words += " (entry " + grouped(*file.leaf);
    if (file.leaf && !file.by.empty()) words += " by " + shown(file.by);
    if (file.leaf) words += ")";
    if (file.truck_since_us) {
      words += "; in force on the truck since " + in.local.date_clock(*file.truck_since_us);
      if (file.truck_leaf) words += " (entry " + grouped(*file.truck_leaf) + ")";
    }
    const bool late = file.since_us && in.facts.opened && *file.since_us > *in.facts.opened;
    rows.push_back({{"kind", shown(file.kind)},
                    {"words", words},
                    {"sha256", shown(file.sha256)},
                    {"late", late}});
  }
  return rows;
}

Json around_block(const ClaimInput& in) {
  const RecordFacts& record = in.record.record;
  return {{"entries", record.around.empty() ? Json(false) : Json(shown(record.around))},
          {"has_jobs", !record.neighbours.empty()},
          {"jobs", word_rows(record.neighbours)},
          {"has_same_card", !record.same_card.empty()},
          {"same_card", word_rows(record.same_card)},
          {"has_sensed", !record.sensed.empty()},
          {"sensed", word_rows(record.sensed)}};
}

Json other_rules_block(const ClaimInput& in) {
  if (!in.record.other_rules) return false;
  const OtherRules& other = *in.record.other_rules;
  Json rows = Json::array();
  for (const auto& row : other.differences) {
    rows.push_back(
        {{"rule", shown(row.rule)}, {"pinned", shown(row.pinned)}, {"other", shown(row.other)}});
  }
  return {{"heading", shown(other.heading)},
          {"files", word_rows(other.files)},
          {"has_rows", !rows.empty()},
          {"rows", std::move(rows)}};
}

}  // namespace fairlead::reports
