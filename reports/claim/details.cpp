// The pages after page 1: charts, findings, gaps, equipment, pictures.
#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "daemon/base/time_text.h"
#include "reports/charts/plot.h"
#include "reports/claim/finding_words.h"
#include "reports/claim/parts.h"
#include "reports/claim/words.h"

namespace fairlead::reports {
namespace {

constexpr size_t kMostPictures = 60;

Json more_words(size_t count, size_t shown_count, const char* what) {
  if (count <= shown_count) return false;
  return grouped(count - shown_count) + " more " + what + " stand in the bundle.";
}

// One act can break several rules: findings that share a deciding line get one letter.
std::map<size_t, std::string> groups_of(const std::vector<judge::Finding>& findings) {
  std::vector<size_t> group(findings.size());
  for (size_t i = 0; i < group.size(); ++i) group[i] = i;
  const auto deviated = [&](size_t i) {
    return findings[i].applies == judge::Applies::kYes &&
           findings[i].verdict == judge::Verdict::kDeviated;
  };
  // A missing picture at the same moment is an act of its own; a count belongs to its rule.
  const auto kin = [&](size_t a, size_t b) {
    const auto counts = [&](size_t x, size_t y) {
      return findings[x].unit != "items" || findings[x].rule == findings[y].rule + ".count";
    };
    return counts(a, b) && counts(b, a);
  };
  const auto share = [&](size_t a, size_t b) {
    if (!kin(a, b)) return false;
    for (const auto& x : findings[a].evidence) {
      for (const auto& y : findings[b].evidence) {
        if (x.source == y.source && x.seq == y.seq) return true;
      }
    }
    return false;
  };
  for (size_t i = 0; i < findings.size(); ++i) {
    for (size_t k = 0; k < i && deviated(i); ++k) {
      if (!deviated(k) || group[k] == group[i] || !share(i, k)) continue;
      const size_t old = group[i];
      for (size_t& g : group) {
        if (g == old) g = group[k];
      }
    }
  }
  std::map<size_t, std::vector<size_t>> members;
  for (size_t i = 0; i < group.size(); ++i) members[group[i]].push_back(i);
  std::map<size_t, std::string> out;
  for (const auto& [first, all] : members) {
    if (all.size() < 2) continue;
    std::vector<std::string> names;
    for (const size_t index : all) names.push_back(exhibit('F', index));
    for (const size_t index : all) out[index] = "One act: " + listed(names) + ".";
  }
  return out;
}

Json reasons_for(const ClaimInput& in, const std::string& rule) {
  for (const auto& mark : in.facts.lines) {
    if (mark.line->has_reason() && mark.line->reason().rule() == rule && !mark.taken_back) {
      return "Operator's reason: \"" + shown(mark.line->reason().words()) + "\"";
    }
  }
  return false;
}

Json row(const std::string& name, const std::string& words) {
  return {{"name", name}, {"words", words}};
}

void add_field(Json& rows, const std::string& name, const std::string& value) {
  if (!value.empty()) rows.push_back(row(name, shown(value)));
}

std::vector<std::string> gear_used(const JobFacts& facts) {
  std::vector<std::string> ids;
  const auto add = [&](const std::string& id) {
    if (!id.empty() && std::find(ids.begin(), ids.end(), id) == ids.end()) ids.push_back(id);
  };
  for (const auto& mark : facts.lines) {
    if (mark.line->has_tiedown()) {
      add(mark.line->tiedown().gear());
      add(mark.line->tiedown().anchor_gear());
    }
    if (mark.line->has_rigging()) {
      for (const auto& id : mark.line->rigging().gear()) add(id);
    }
  }
  return ids;
}

Json gear_rows(const ClaimInput& in) {
  Json rows = Json::array();
  for (const auto& id : gear_used(in.facts)) {
    std::string words = "not in the register";
    for (const auto& gear : in.record.register_files.gear()) {
      if (gear.id() != id) continue;
      words = gear.title().empty() ? v1::GearKind::Word_Name(gear.kind()) : shown(gear.title());
      if (gear.title().empty()) {
        for (char& c : words)
          c = c == '_' ? ' ' : c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
      }
      if (!gear.width().empty()) words += ", " + shown(gear.width());
      words += gear.wll().empty() ? ", no load limit marked" : ", load limit " + shown(gear.wll());
      if (!gear.in_service().empty()) words += ", in service " + shown(gear.in_service());
      if (!gear.inspect_by().empty()) words += ", look again by " + shown(gear.inspect_by());
    }
    rows.push_back(row(shown(id), words));
  }
  return rows;
}

Json vehicle_rows(const ClaimInput& in) {
  Json rows = Json::array();
  for (const auto& v : in.record.register_files.vehicle()) {
    if (v.id() != in.facts.vehicle) continue;
    add_field(rows, "Car", v.title().empty() ? v.id() : v.title());
    add_field(rows, "Mass",
              v.mass() + (v.mass_sd().empty() ? "" : ", standard deviation " + v.mass_sd()));
    add_field(rows, "Jump start window",
              v.boost_min().empty() ? "" : v.boost_min() + " to " + v.boost_max());
    add_field(rows, "On its own wheels",
              v.rolling_speed().empty()
                  ? ""
                  : "under " + v.rolling_speed() + ", under " + v.rolling_distance());
    for (const auto& point : v.point()) {
      add_field(rows, "Point " + shown(point.id()),
                point.rating().empty() ? "no rating published" : point.rating());
    }
  }
  if (rows.empty()) rows.push_back(row("Car", shown(in.facts.vehicle) + ", not in the register"));
  for (const auto& t : in.record.register_files.truck()) {
    if (t.id() != in.facts.truck) continue;
    add_field(rows, "Truck", t.title().empty() ? t.id() : t.id() + ", " + t.title());
    add_field(rows, "Deck", t.deck_length());
    for (const auto& winch : t.winch()) add_field(rows, "Winch line", winch.line_rating());
  }
  return rows;
}

}  // namespace

Json charts_part(const ClaimInput& in) {
  Json charts = Json::array();
  for (size_t i = 0; i < in.series.size(); ++i) {
    const Series& series = in.series[i];
    if (series.points.empty()) continue;
    std::vector<LimitLine> limits;
    for (const auto& f : in.record.findings) {
      if (f.quantity != series.signal || f.applies == judge::Applies::kNo) continue;
      const auto y = limit_in_unit(series, f.limit);
      if (!y) continue;
      LimitLine line{*y, "limit " + limit_words(f) + " (" + shown(f.rule) + ")"};
      const auto same = [&](const LimitLine& other) { return other.words == line.words; };
      if (std::none_of(limits.begin(), limits.end(), same)) limits.push_back(line);
    }
    charts.push_back(signal_chart(series, in.facts, limits, in.local, exhibit('C', i)));
  }
  return charts;
}

namespace {

/// Whether more may come, and by which reading of the rules it was judged where that is an old one.
Json state_words(const judge::Finding& f) {
  std::string words = f.settled ? "" : "provisional";
  if (f.meaning != judge::kMeaning) {
    words += fmt::format("{}judged by meaning {} of the rules, this program has {}",
                         words.empty() ? "" : "; ", f.meaning, judge::kMeaning);
  }
  return words.empty() ? Json(false) : Json(words);
}

}  // namespace

Json findings_part(const ClaimInput& in) {
  const auto groups = groups_of(in.record.findings);
  Json rows = Json::array();
  for (size_t i = 0; i < in.record.findings.size(); ++i) {
    const auto& f = in.record.findings[i];
    const auto group = groups.find(i);
    const std::string reason = reason_words(f);
    rows.push_back({{"exhibit", exhibit('F', i)},
                    {"title", title_words(f)},
                    {"rule", shown(f.rule)},
                    {"procedure", shown(f.procedure_id)},
                    {"applies", judge::word(f.applies)},
                    {"verdict", verdict_words(f)},
                    {"outside", f.verdict == judge::Verdict::kDeviated},
                    {"basis", basis_words(f)},
                    {"value", value_words(f)},
                    {"limit", limit_words(f)},
                    {"margin", margin_signed(f)},
                    {"reason", reason.empty() ? Json(false) : Json(reason)},
                    {"at", f.at_us ? Json(in.local.clock_tenths(*f.at_us)) : Json(false)},
                    {"origin", f.origin.empty() ? Json(false) : Json(shown(f.origin))},
                    {"sentence", f.sentence.empty() ? Json(false) : Json(shown(f.sentence))},
                    {"settled", state_words(f)},
                    {"group", group == groups.end() ? Json(false) : Json(group->second)},
                    {"person", reasons_for(in, f.rule)}});
  }
  return {{"has_rows", !rows.empty()},
          {"rows", std::move(rows)},
          {"meaning", judge::kMeaning},
          {"gloss",
           "deviated: outside the limit. unproven: not shown by the record, neither met nor "
           "deviated. met: inside the limit."}};
}

Json readings_part(const ClaimInput& in) {
  Json rows = Json::array();
  for (size_t i = 0; i < in.readings.size(); ++i) {
    const Reading& r = in.readings[i];
    rows.push_back({{"exhibit", exhibit('R', i)},
                    {"title", r.title},
                    {"side", side_words(r.side)},
                    {"outside", r.side == Side::kOutside},
                    {"value", r.value.empty() ? "-" : r.value},
                    {"limit", r.limit.empty() ? "-" : r.limit},
                    {"basis", r.basis},
                    {"words", r.words}});
  }
  return {
      {"has_rows", !rows.empty()},
      {"rows", std::move(rows)},
      {"gloss",
       "Worked out by this report from the lines and files, where no rule of the job judges it. "
       "Not judged: a reading that is outside counts in part for the claim, one that is inside "
       "counts for nothing."}};
}

Json gaps_part(const ClaimInput& in) {
  Json rows = Json::array();
  for (size_t i = 0; i < in.facts.gaps.size(); ++i) {
    const auto& gap = in.facts.gaps[i];
    rows.push_back({{"exhibit", exhibit('G', i)},
                    {"channel", shown(gap.channel)},
                    {"from", in.local.clock_tenths(gap.from_us)},
                    {"to", in.local.clock_tenths(gap.to_us)},
                    {"cause", shown(gap.cause)},
                    {"lost", gap.lost ? grouped(*gap.lost) : "not known"}});
  }
  return {{"has_rows", !rows.empty()}, {"rows", std::move(rows)}, {"none", "No gap is on record."}};
}

Json equipment_part(const ClaimInput& in) {
  Json instruments = Json::array();
  for (const auto& series : in.series) {
    const Calibration c = calibration_of(in.record, series.signal, in.facts.opened);
    instruments.push_back(row(series.title, c.words));
  }
  Json files = files_rows(in);
  Json gear = gear_rows(in);
  return {{"vehicle", vehicle_rows(in)},
          {"has_gear", !gear.empty()},
          {"gear", std::move(gear)},
          {"has_instruments", !instruments.empty()},
          {"instruments", std::move(instruments)},
          {"has_files", !files.empty()},
          {"files", std::move(files)}};
}

Json photos_part(const ClaimInput& in) {
  Json rows = Json::array();
  for (size_t i = 0; i < std::min(in.facts.photos.size(), kMostPictures); ++i) {
    const PhotoFact& photo = in.facts.photos[i];
    const bool late = photo.when == v1::When::BEFORE && in.facts.first_touch &&
                      photo.time_us > *in.facts.first_touch;
    std::string when = photo.when == v1::When::BEFORE  ? "before"
                       : photo.when == v1::When::AFTER ? "after"
                                                       : "during";
    if (late) when += ", taken after first touch";
    rows.push_back({{"exhibit", exhibit('P', i)},
                    {"view", view_words(photo.view)},
                    {"when", when},
                    {"time", in.local.date_clock(photo.time_us)},
                    {"limits", photo.limits.empty() ? Json(false) : Json(listed(photo.limits))},
                    {"media_type", shown(photo.media_type)},
                    {"sha256", photo.sha256}});
  }
  return {{"has_rows", !rows.empty()},
          {"rows", std::move(rows)},
          {"gloss",
           "Shown at the size of the page. The SHA-256 under each is that of the file as it was "
           "recorded; the bundle holds it."},
          {"none", "No picture is on record."},
          {"more", more_words(in.facts.photos.size(), kMostPictures, "pictures")}};
}

}  // namespace fairlead::reports
