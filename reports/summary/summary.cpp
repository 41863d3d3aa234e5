#include "reports/summary/summary.h"

#include "reports/charts/control_chart.h"
#include "reports/charts/interval_chart.h"
#include "reports/csv.h"
#include "reports/summary/parts.h"
#include "reports/templates/template.h"

namespace fairlead::reports {
namespace {

std::string recipients_words(const SummaryInput& input) {
  if (input.recipients.empty()) return "The base sends it to nobody.";
  std::vector<std::string> names;
  for (const auto& one : input.recipients) names.push_back(shown(one));
  return "Sent to " + listed(names) +
         ": this page, its PDF, JSON and CSV files; no job's raw record.";
}

std::string csv_table(const char* about, const std::vector<std::string>& columns,
                      const Json& rows) {
  std::string out = std::string("# ") + about + "\r\n";
  for (size_t i = 0; i < columns.size(); ++i) out += (i == 0 ? "" : ",") + columns[i];
  out += "\r\n";
  for (const auto& row : rows) {
    for (size_t i = 0; i < columns.size(); ++i)
      out += (i == 0 ? "" : ",") + csv_field(row.at(columns[i]));
    out += "\r\n";
  }
  return out;
}

}  // namespace

Result<Json> summary_json(const SummaryInput& input, const ReportOptions& options) {
  if (input.to_us <= input.from_us) {
    return fail(Code::kBadInput, "summary span: `to` is not after `from`; give a later `to`");
  }
  const LocalTime local = local_time(options);
  const auto counts = count_rules(input.jobs);
  Json json;
  json["report"] = {{"title", "Compliance summary"},
                    {"form", "fairlead compliance summary, form 2"},
                    {"span", local.date(input.from_us) + " up to " + local.date(input.to_us - 1)},
                    {"issued", local.date_clock(options.issued_at_us) + " " + local.name()},
                    {"issuer", shown(options.issuer)},
                    {"program", shown(options.program_version)},
                    {"paper", options.paper == Paper::kA4 ? "A4" : "Letter"},
                    {"advice", "Not legal advice."},
                    {"preview", input.preview},
                    {"own_copy", input.own_copy},
                    {"recipients", recipients_words(input)}};
  json["completeness"] = completeness_part(input);
  json["exposure"] = exposure_part(input);
  json["deviations"] = deviations_part(input, counts);
  json["claims"] = claims_part(input, local, options.issued_at_us);
  auto change = change_part(input, local, options.issued_at_us);
  if (!change) return std::unexpected(change.error());
  json["change"] = std::move(*change);
  json["compare"] = compare_part(input, counts, options.issued_at_us);
  json["due"] = due_part(input, local, options.issued_at_us);
  json["actions"] = actions_part(input, counts);
  json["head"] = head_part(input, local);
  json["standing"] = standing_part(input);
  return json;
}

Result<std::string> summary_html(const Json& json) {
  const auto page = built_in_file("summary.mustache");
  if (!page) return std::unexpected(page.error());
  const auto style = built_in_file("page.css");
  if (!style) return std::unexpected(style.error());
  Json data = json;
  data["style"] = std::string(*style);
  for (auto& chart : data["change"]["charts"]) chart["svg"] = control_chart_svg(chart);
  data["deviations"]["svg"] = interval_chart_svg(json.at("deviations").at("chart"));
  return fill_template(*page, data);
}

std::string summary_csv(const Json& json) {
  std::string out =
      "# One line a rule. rate = deviated per 100 judged (met + deviated); lo, hi = exact 95 % "
      "Poisson "
      "interval; all_good, all_bad = the rate if every unproven one were good or bad.\r\n"
      "procedure,rule,title,counted_per,met,deviated,unproven,applies_unknown,not_applicable,rate,"
      "lo,"
      "hi,all_good,all_bad\r\n";
  for (const auto& row : json.at("deviations").at("rows")) {
    std::string line;
    for (const char* key :
         {"procedure", "rule", "title", "per", "met", "deviated", "unproven", "doubtful",
          "not_applicable", "rate", "lo", "hi", "all_good", "all_bad"}) {
      line += (line.empty() ? "" : ",") + csv_field(row.at(key));
    }
    out += line + "\r\n";
  }
  return out;
}

std::string summary_claims_csv(const Json& json) {
  return csv_table(
      "One line a month of the job. jobs = opened in it; d90, d180, d365 = claims received within "
      "so many days of their job ('too young': not all jobs are that old; '-': fewer than 5 "
      "people); "
      "open, paid, declined, withdrawn = state today.",
      {"month", "jobs", "d90", "d180", "d365", "open", "paid", "declined", "withdrawn"},
      json.at("claims").at("months"));
}

std::string summary_change_csv(const Json& json) {
  return csv_table(
      "This span against the one before. now, before = deviated per 100 judged with the exact 95 % "
      "interval; p = exact conditional test of two counts; only comparisons that are fair.",
      {"what", "now", "before", "p", "words"}, json.at("compare").at("rows"));
}

}  // namespace fairlead::reports
