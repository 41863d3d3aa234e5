#include "reports/sheet/sheet.h"

#include <algorithm>

#include "daemon/base/time_text.h"
#include "reports/csv.h"
#include "reports/job_way.h"
#include "reports/templates/template.h"
#include "reports/text.h"

namespace fairlead::reports {
namespace {

constexpr size_t kMostInCell = 120, kMostInList = 8;
constexpr double kMinute_us = 60e6;

std::string cell(const std::string& text) { return shortened(shown(text), kMostInCell); }

// The sheet is one page, whoever wrote what.
std::string list_of(std::vector<std::string> cells, const std::string& none) {
  if (cells.empty()) return none;
  if (cells.size() > kMostInList) {
    const size_t more = cells.size() - kMostInList + 1;
    cells.resize(kMostInList - 1);
    cells.push_back(count_word(more) + " more");
  }
  return listed(cells);
}

struct Moment {
  const char* key;
  const char* words;
  std::optional<int64_t> at_us;
};

const char* release_words(const std::string& how) {
  if (how == "given") return "Delivered";
  if (how == "refused") return "Refused by the receiver";
  if (how == "left") return "Left with nobody there";
  if (how == "stored") return "Taken into storage";
  return "Delivered or refused";
}

std::vector<Moment> moments_of(const JobFacts& facts) {
  return {{"opened", "Opened", facts.opened},
          {"arrived", "Arrived", facts.arrived},
          {"first_touch", "First touch", facts.first_touch},
          {"loaded", "Loaded", facts.loaded},
          {"departed", "Departed with the car", facts.travel},
          {"unloaded", "Unloaded", facts.unloaded},
          {"released", release_words(facts.released_how), facts.released},
          {"closed", "Closed", facts.closed}};
}

// A moment nobody recorded stands there as such: a gap in billing should be seen.
Json moment_rows(const JobFacts& facts, const LocalTime& local) {
  Json rows = Json::array();
  for (const Moment& moment : moments_of(facts)) {
    Json row = {{"key", moment.key}, {"words", moment.words}};
    row["date"] = moment.at_us ? local.date(*moment.at_us) : "";
    row["local"] = moment.at_us ? local.clock(*moment.at_us) : "not on record";
    row["utc"] = moment.at_us ? format_time_us(*moment.at_us).substr(0, 19) + "Z" : "";
    const bool after = moment.at_us && facts.arrived && *moment.at_us > *facts.arrived;
    row["since"] = after ? span_words(*moment.at_us - *facts.arrived) : "";
    rows.push_back(std::move(row));
  }
  return rows;
}

// Whoever opened it, joined it or stands as crew, each once, by name where the card has one.
std::vector<std::string> people_of(const JobRecord& record, const JobFacts& facts) {
  std::vector<std::string> ids;
  const auto add = [&](const std::string& id) {
    if (!id.empty() && std::ranges::find(ids, id) == ids.end()) ids.push_back(id);
  };
  add(facts.operator_card);
  for (const auto& mark : facts.lines) {
    if (!mark.taken_back && mark.line->has_crew()) add(mark.line->crew().operator_());
  }
  std::vector<std::string> names;
  for (const auto& id : ids) names.push_back(cell(card_name(record, id)));
  return names;
}

uint64_t photos(const JobFacts& facts, v1::When::Word when) {
  return static_cast<uint64_t>(std::ranges::count_if(
      facts.photos, [&](const PhotoFact& photo) { return !photo.film && photo.when == when; }));
}

std::string minutes(std::optional<int64_t> from_us, std::optional<int64_t> to_us) {
  if (!from_us || !to_us || *to_us < *from_us) return "";
  return fixed(static_cast<double>(*to_us - *from_us) / kMinute_us, 1);
}

Json amounts(const JobFacts& facts, const JobWay& way) {
  const auto or_none = [](const std::string& text) {
    return text.empty() ? "not on record" : text;
  };
  const std::string scene = minutes(facts.arrived, facts.travel ? facts.travel : facts.closed);
  const std::string all = minutes(facts.opened, facts.closed);
  const std::string km = way.loaded_km ? fixed(*way.loaded_km, 1) : "";
  const std::string winch =
      way.winched_us ? fixed(static_cast<double>(*way.winched_us) / kMinute_us, 1) : "";
  const auto row = [&](const char* key, const char* words, const std::string& figure,
                       const std::string& unit, const std::string& note) {
    return Json{{"key", key},
                {"words", words},
                {"figure", figure},
                {"shown", figure.empty() ? or_none(figure) : figure + " " + unit},
                {"note", note}};
  };
  std::string km_note = "by the receiver's own speeds";
  if (way.unseen_us > 0) km_note += "; " + span_words(way.unseen_us) + " without a reading";
  return Json::array(
      {row("minutes_on_scene", "On the scene", scene, "min", "arrival to departure, or to closing"),
       row("minutes_in_all", "In all", all, "min", "opening to closing"),
       row("loaded_km", "Loaded kilometres", km, "km", km_note),
       row("winch_minutes", "Winch working", winch, "min", "line pulling 300 N or more"),
       row("photos_before", "Photos before", grouped(photos(facts, v1::When::BEFORE)), "", ""),
       row("photos_after", "Photos after", grouped(photos(facts, v1::When::AFTER)), "", "")});
}

}  // namespace

Json sheet_json(const JobRecord& record, const ReportOptions& options) {
  const JobFacts facts = gather_facts(record);
  const LocalTime local = local_time(options);
  const auto people = people_of(record, facts);
  std::vector<std::string> procedures;
  for (const auto& id : facts.procedures) procedures.push_back(cell(id));
  const std::string number = cell(record.number.empty() ? record.job_id : record.number);
  return {{"report",
           {{"title", "Job sheet " + number},
            {"form", "fairlead job sheet, form 1"},
            {"number", number},
            {"job", cell(record.job_id)},
            {"issuer", cell(options.issuer)},
            {"issued", local.date_clock(options.issued_at_us) + " " + local.name()},
            {"zone", local.name()},
            {"program", cell(options.program_version)},
            {"paper", options.paper == Paper::kA4 ? "A4" : "Letter"},
            {"advice", "From the record as it stands; not a finding."},
            {"imported", record.record.imported ? Json("Lines were fed into the base from a file.")
                                                : Json(false)}}},
          {"vehicle", cell(facts.vehicle)},
          {"truck", cell(facts.truck)},
          {"work", list_of(procedures, "no procedure on record")},
          {"people", list_of(people, "nobody on record")},
          {"promised", facts.promised ? Json(local.date_clock(*facts.promised)) : Json(false)},
          {"moments", moment_rows(facts, local)},
          {"amounts", amounts(facts, job_way(record, facts))}};
}

Result<std::string> sheet_html(const Json& json) {
  const auto page = built_in_file("sheet.mustache");
  if (!page) return std::unexpected(page.error());
  const auto style = built_in_file("page.css");
  if (!style) return std::unexpected(style.error());
  Json data = json;
  data["style"] = std::string(*style);
  return fill_template(*page, data);
}

std::string sheet_csv(const Json& json) {
  std::vector<std::pair<std::string, std::string>> cells = {
      {"number", json.at("report").at("number")},
      {"job_id", json.at("report").at("job")},
      {"truck", json.at("truck")},
      {"vehicle", json.at("vehicle")},
      {"work", json.at("work")},
      {"people", json.at("people")}};
  for (const auto& moment : json.at("moments"))
    cells.emplace_back(moment.at("key").get<std::string>() + "_utc", moment.at("utc"));
  cells.emplace_back("released_how", "");
  for (const auto& moment : json.at("moments")) {
    if (moment.at("key") == "released" && !moment.at("utc").get<std::string>().empty())
      cells.back().second = moment.at("words");
  }
  for (const auto& amount : json.at("amounts"))
    cells.emplace_back(amount.at("key"), amount.at("figure"));
  std::string head, row;
  for (const auto& [name, text] : cells) {
    head += (head.empty() ? "" : ",") + name;
    row += (row.empty() && head == name ? "" : ",") + csv_field(text);
  }
  return "# One row a job. *_utc = time of that mark, empty: not on record; minutes and km are "
         "decimals, empty: not measured.\r\n" +
         head + "\r\n" + row + "\r\n";
}

}  // namespace fairlead::reports
