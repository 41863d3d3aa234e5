#include "reports/claim/claim_report.h"

#include "daemon/base/crypto.h"
#include "daemon/base/time_text.h"
#include "reports/charts/plot.h"
#include "reports/charts/way_drawing.h"
#include "reports/claim/parts.h"
#include "reports/pictures.h"
#include "reports/templates/template.h"

namespace fairlead::reports {
namespace {

constexpr size_t kMostAllegations = 6;

std::optional<int64_t> received_time(const v1::Claim& claim) {
  if (const auto time = parse_time_us(claim.received())) return *time;
  if (const auto day = parse_date_us(claim.received())) return *day;
  return std::nullopt;
}

Result<std::vector<Answer>> answer_all(const AnswerInput& input, const v1::Claim& claim,
                                       const AllegationTable& table) {
  if (claim.allegation().empty()) {
    return fail(Code::kBadInput, "claim.allegation: none; name at least one thing that is alleged");
  }
  if (static_cast<size_t>(claim.allegation_size()) > kMostAllegations) {
    return fail(Code::kBadInput,
                "claim.allegation: more than six; open a second claim for the rest");
  }
  std::vector<Answer> answers;
  for (const auto& allegation : claim.allegation()) {
    const v1::AllegationKind* kind = nullptr;
    if (allegation.kind().empty()) {
      kind = guess_kind(table, allegation.words());
      if (kind == nullptr) {
        return fail(Code::kBadInput, "claim.allegation.kind: missing, and the words '" +
                                         allegation.words() + "' fit no kind; name one");
      }
    } else {
      const auto found = find_kind(table, allegation.kind());
      if (!found) return std::unexpected(found.error());
      kind = *found;
    }
    answers.push_back(answer_allegation(input, *kind, allegation, answers.size()));
  }
  return answers;
}

void add_picture(Json& picture, const std::map<std::string, Attachment>& pictures) {
  picture["src"] = false;
  if (!picture.contains("sha256")) return;
  const std::string data = picture_data(pictures, picture.at("sha256"));
  if (!data.empty()) picture["src"] = data;
}

}  // namespace

std::string picture_data(const std::map<std::string, Attachment>& pictures,
                         const std::string& sha256) {
  const auto found = pictures.find(sha256);
  const char* type = found == pictures.end() ? nullptr : picture_type(found->second.bytes);
  if (type == nullptr) return {};
  return std::string("data:") + type + ";base64," + base64_of(found->second.bytes);
}

Result<Json> claim_report_json(const JobRecord& record, const v1::Claim& claim,
                               const AllegationTable& table, const ReportOptions& options) {
  if (record.lines.empty()) {
    return fail(Code::kBadInput,
                "job " + record.job_id + ": no lines on record; nothing to report");
  }
  const LocalTime local = local_time(options);
  const JobFacts facts = gather_facts(record);
  const std::vector<Series> series = series_of(record);
  const std::vector<Reading> readings = readings_of({record, facts, series, local});
  const auto answers = answer_all({record, facts, series, readings, local}, claim, table);
  if (!answers) return std::unexpected(answers.error());
  const ClaimInput input{record, claim,    table, options,  facts,
                         series, readings, local, *answers, received_time(claim)};
  Json json;
  json["report"] = head_block(input);
  json["claim"] = claim_block(input);
  json["answers"] = answers_block(input);
  json["columns"] = columns_block(input);
  json["measured"] = measured_block(input);
  json["pictures"] = pictures_block(input);
  json["custody"] = custody_chart(record, facts, local, input.received_us);
  json["settle"] = settle_block(input);
  json["record"] = record_block(input);
  json["timeline"] = timeline_part(input);
  json["charts"] = charts_part(input);
  json["ways"] = way_drawings(record, facts, series, local);
  json["findings"] = findings_part(input);
  json["readings"] = readings_part(input);
  json["gaps"] = gaps_part(input);
  json["equipment"] = equipment_part(input);
  json["photos"] = photos_part(input);
  json["around"] = around_block(input);
  json["other_rules"] = other_rules_block(input);
  json["certification"] = certification_part(input);
  return json;
}

Result<std::string> claim_report_html(const Json& json,
                                      const std::map<std::string, Attachment>& pictures) {
  const auto page = built_in_file("claim.mustache");
  if (!page) return std::unexpected(page.error());
  const auto style = built_in_file("page.css");
  if (!style) return std::unexpected(style.error());
  Json data = json;
  data["style"] = std::string(*style);
  data["custody"]["svg"] = custody_chart_svg(json.at("custody"));
  data["has_charts"] = !json.at("charts").empty();
  for (auto& chart : data["charts"]) chart["svg"] = signal_chart_svg(chart);
  data["has_ways"] = !json.at("ways").empty();
  for (auto& way : data["ways"]) way["svg"] = way_svg(way);
  add_picture(data["pictures"]["before"], pictures);
  add_picture(data["pictures"]["after"], pictures);
  for (auto& answer : data["answers"]) {
    if (!answer["pair"].is_object()) continue;
    add_picture(answer["pair"]["before"], pictures);
    add_picture(answer["pair"]["after"], pictures);
  }
  for (auto& photo : data["photos"]["rows"]) add_picture(photo, pictures);
  return fill_template(*page, data);
}

}  // namespace fairlead::reports
