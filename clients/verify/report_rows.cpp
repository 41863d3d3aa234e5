#include "clients/verify/report_rows.h"

#include <map>
#include <nlohmann/json.hpp>

namespace fairlead::verifier {
namespace {

using nlohmann::json;

std::string text_at(const json& row, const char* key) {
  const auto found = row.find(key);
  return found != row.end() && found->is_string() ? found->get<std::string>() : "";
}

bool is_true(const json& row, const char* key) {
  const auto found = row.find(key);
  return found != row.end() && found->is_boolean() && found->get<bool>();
}

/// The table's rows; nullptr when the file is not JSON or has no such table.
const json* rows_of(const json& report) {
  if (!report.is_object()) return nullptr;
  const auto findings = report.find("findings");
  if (findings == report.end() || !findings->is_object()) return nullptr;
  const auto rows = findings->find("rows");
  return rows != findings->end() && rows->is_array() ? &*rows : nullptr;
}

/// What the row must say of the verdict.
std::string verdict_of(const judge::Finding& finding) {
  return finding.verdict == judge::Verdict::kNone ? "" : judge::word(finding.verdict);
}

bool row_fits(const json& row, const judge::Finding& finding) {
  const std::string verdict = verdict_of(finding);
  return text_at(row, "applies") == judge::word(finding.applies) &&
         (verdict.empty() || text_at(row, "verdict") == verdict) &&
         is_true(row, "outside") == (finding.verdict == judge::Verdict::kDeviated);
}

}  // namespace

uint32_t report_meaning(std::string_view report_json) {
  const json report = json::parse(report_json, nullptr, false);
  if (!report.is_object() || !report.contains("findings") || !report["findings"].is_object())
    return 1;
  const json& findings = report["findings"];
  const auto found = findings.find("meaning");
  return found != findings.end() && found->is_number_unsigned() ? found->get<uint32_t>() : 1;
}

std::vector<std::string> report_differences(std::string_view report_json,
                                            std::span<const judge::Finding> findings) {
  const json report = json::parse(report_json, nullptr, false);
  const json* rows = rows_of(report);
  if (rows == nullptr) return {"the report's figures hold no table of findings"};
  std::map<std::string, const judge::Finding*> expected;
  for (const auto& finding : findings) {
    expected[finding.procedure_id + "/" + finding.rule] = &finding;
  }
  std::vector<std::string> out;
  for (const json& row : *rows) {
    if (!row.is_object()) return {"the report's table of findings is malformed"};
    const auto found = expected.find(text_at(row, "procedure") + "/" + text_at(row, "rule"));
    if (found == expected.end()) {
      out.push_back("the report has a row for a finding the record does not give");
      continue;
    }
    if (!row_fits(row, *found->second)) {
      out.push_back(found->first + ": the report says otherwise than the record");
    }
    expected.erase(found);
  }
  for (const auto& [key, finding] : expected) out.push_back(key + ": the report leaves it out");
  return out;
}

}  // namespace fairlead::verifier
