#include "reports/summary/summary.h"

#include "reports/charts/interval_chart.h"
#include "reports/summary/parts.h"
#include "reports/templates/template.h"

namespace fairlead::reports {
namespace {

// RFC 4180: quotes doubled, a field with comma, quote or line end in quotes. A leading = + - @ is
// kept from being read as a formula by a quote mark in front.
std::string csv_field(std::string text) {
  if (!text.empty() && std::string("=+@").find(text[0]) != std::string::npos) text.insert(0, "'");
  if (text.find_first_of(",\"\n\r") == std::string::npos) return text;
  std::string out = "\"";
  for (const char c : text) out += c == '"' ? std::string("\"\"") : std::string(1, c);
  return out + "\"";
}

}  // namespace

Result<Json> summary_json(const SummaryInput& input, const ReportOptions& options) {
  if (input.to_us <= input.from_us) {
    return fail(Code::kBadInput, "summary span: `to` is not after `from`; give a later `to`");
  }
  const LocalTime local(options.utc_offset_minutes, options.zone_name);
  const auto counts = count_rules(input.jobs);
  Json json;
  json["report"] = {{"title", "Compliance summary"},
                    {"form", "fairlead compliance summary, form 1"},
                    {"span", local.date(input.from_us) + " up to " + local.date(input.to_us - 1)},
                    {"issued", local.date_clock(options.issued_at_us) + " " + local.name()},
                    {"issuer", shown(options.issuer)},
                    {"program", shown(options.program_version)},
                    {"paper", options.paper == Paper::kA4 ? "A4" : "Letter"},
                    {"advice", "Not legal advice."}};
  json["completeness"] = completeness_part(input);
  json["exposure"] = exposure_part(input);
  json["deviations"] = deviations_part(counts);
  json["claims"] = claims_part(input, local, options.issued_at_us);
  auto change = change_part(input, local, options.issued_at_us);
  if (!change) return std::unexpected(change.error());
  json["change"] = std::move(*change);
  json["due"] = due_part(input, local, options.issued_at_us);
  json["actions"] = actions_part(counts);
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

}  // namespace fairlead::reports
