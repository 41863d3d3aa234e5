#include "reports/charts/way_drawing.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "daemon/base/time_text.h"
#include "reports/charts/svg.h"

namespace fairlead::reports {
namespace {

constexpr double kWidth = 680, kBox = 600, kHigh = 230, kMargin = 34;
constexpr size_t kMostFixes = 400;
constexpr double kMetresPerDegree = 111'195;  // Sphere of 6,371 km: the drawing is small.
constexpr int64_t kHoleUs = 10'000'000;       // As a hole of truck.driven.

struct Place {
  int64_t time_us;
  double x, y, sd;  // Metres east and north of the first.
};

std::vector<Place> places_of(const JobRecord& record, const JobFacts& facts,
                             std::string_view source) {
  std::vector<Place> out;
  double lat0 = 0, lon0 = 0;
  for (const auto& line : record.lines) {
    if (!line.has_fix() || line.source() != source) continue;
    if (line.has_quality() && line.quality() != v1::Quality::GOOD) continue;
    const auto time = parse_time_us(line.time());
    if (!time || *time < facts.begin_us || *time > facts.end_us) continue;
    if (out.empty()) lat0 = line.fix().lat_deg(), lon0 = line.fix().lon_deg();
    const double cosine = std::cos(lat0 * std::numbers::pi / 180);
    out.push_back({*time, (line.fix().lon_deg() - lon0) * cosine * kMetresPerDegree,
                   (line.fix().lat_deg() - lat0) * kMetresPerDegree, line.fix().h_sd_m()});
  }
  std::ranges::stable_sort(out, {}, &Place::time_us);
  return out;
}

// Every n-th of many, the last kept.
std::vector<Place> thinned(const std::vector<Place>& all) {
  const size_t step = (all.size() + kMostFixes - 1) / kMostFixes;
  if (step <= 1) return all;
  std::vector<Place> out;
  for (size_t i = 0; i < all.size(); i += step) out.push_back(all[i]);
  if (out.back().time_us != all.back().time_us) out.push_back(all.back());
  return out;
}

// 1, 2 or 5 times a power of ten, at most `most`.
double round_length(double most) {
  const double power = std::pow(10, std::floor(std::log10(most)));
  for (const double times : {5.0, 2.0, 1.0}) {
    if (times * power <= most) return times * power;
  }
  return power;
}

std::string length_words(double metres) {
  return metres >= 1000 ? fixed(metres / 1000, 0) + " km"
         : metres >= 1  ? fixed(metres, 0) + " m"
                        : fixed(metres * 100, 0) + " cm";
}

double two(double value) { return std::round(value * 100) / 100; }

// Fixes fitted into the box, north up, one scale both ways.
Json track(const std::vector<Place>& all, const std::string& title, const LocalTime& local) {
  const std::vector<Place> places = thinned(all);
  double x0 = 0, x1 = 0, y0 = 0, y1 = 0, sd = 0;
  for (const Place& p : places) {
    x0 = std::min(x0, p.x), x1 = std::max(x1, p.x);
    y0 = std::min(y0, p.y), y1 = std::max(y1, p.y);
    sd = std::max(sd, p.sd);
  }
  const double spread = std::max({x1 - x0, y1 - y0, 4 * sd, 1.0});
  const double scale =
      std::min({kBox / std::max(x1 - x0, 0.4 * spread), kHigh / std::max(y1 - y0, 0.2 * spread)});
  const double bar = round_length(kBox / 4 / scale);
  Json points = Json::array();
  for (size_t i = 0; i < places.size(); ++i) {
    const Place& p = places[i];
    const bool hole =
        i > 0 && all.size() == places.size() && p.time_us - places[i - 1].time_us > kHoleUs;
    points.push_back(
        {{"x", two((p.x - x0) * scale)}, {"y", two((y1 - p.y) * scale)}, {"hole", hole}});
  }
  const Place &first = places.front(), &last = places.back();
  Json out;
  out["kind"] = "track";
  out["title"] = title;
  out["high"] = two((y1 - y0) * scale);
  out["points"] = std::move(points);
  out["begin"] = local.clock(first.time_us);
  out["end"] = local.clock(last.time_us);
  out["circle"] = two(2 * sd * scale);
  out["bar"] = {{"length", two(bar * scale)}, {"label", length_words(bar)}};
  out["words"] = counted(all.size(), "fix", "fixes") + ", north up, one scale both ways; " +
                 out["begin"].get<std::string>() + " to " + out["end"].get<std::string>() +
                 "; circles: twice the greatest deviation an axis that the receiver gave, " +
                 fixed(2 * sd, 1) +
                 " m. Between fixes the way is not known; dashed: more than 10 s "
                 "apart. A drawing, not a survey.";
  return out;
}

struct Pull {
  int64_t from_us, to_us;
  double rope_from, rope_to;
};

// Rope at the beginning and the end of each free-rolling stretch, by the nearest readings inside
// it.
std::vector<Pull> pulls_of(const JobFacts& facts, const Series& rope) {
  std::vector<Pull> out;
  for (const auto& stretch : facts.stretches) {
    if (stretch.words != "free-rolling") continue;
    const SeriesPoint *first = nullptr, *last = nullptr;
    for (const auto& point : rope.points) {
      if (point.time_us < stretch.from_us || point.time_us > stretch.to_us) continue;
      if (first == nullptr) first = &point;
      last = &point;
    }
    if (first != nullptr) out.push_back({first->time_us, last->time_us, first->value, last->value});
  }
  return out;
}

// Bars on one axis of rope paid out: what came in during each stretch, to scale.
Json rope_drawing(const JobRecord& record, const std::vector<Pull>& pulls, const LocalTime& local) {
  double most = 0;
  for (const Pull& pull : pulls) most = std::max({most, pull.rope_from, pull.rope_to});
  std::string limit;
  for (const auto& f : record.findings) {
    if (f.rule != "distance" || f.applies != judge::Applies::kYes || f.limit.empty()) continue;
    limit = f.limit.substr(f.limit.find_first_of("0123456789"));
    break;
  }
  const double limit_m =
      limit.empty() ? 0 : read_number(limit.substr(0, limit.find(' '))).value_or(0);
  most = std::max({most, limit_m, 1.0});
  const double scale = kBox / most;
  Json bars = Json::array();
  for (const Pull& pull : pulls) {
    bars.push_back(
        {{"x0", two(std::min(pull.rope_from, pull.rope_to) * scale)},
         {"x1", two(std::max(pull.rope_from, pull.rope_to) * scale)},
         {"words", local.clock(pull.from_us) + " to " + local.clock(pull.to_us) + ": " +
                       fixed(std::abs(pull.rope_from - pull.rope_to), 1) + " m of line " +
                       (pull.rope_to <= pull.rope_from ? "in" : "out")}});
  }
  Json out;
  out["kind"] = "rope";
  out["title"] = "Line while the car was free-rolling";
  out["bars"] = std::move(bars);
  out["limit"] =
      limit_m > 0
          ? Json({{"length", two(limit_m * scale)}, {"label", "limit of one handling: " + limit}})
          : Json(false);
  const double bar = round_length(most / 4);
  out["bar"] = {{"length", two(bar * scale)}, {"label", length_words(bar)}};
  out["ends"] = {{"left", "drum"}, {"right", fixed(most, 1) + " m out"}};
  out["words"] =
      "To scale by the rope counter's first and last reading in each stretch. What was judged, "
      "with its "
      "uncertainty and without slack and deck travel, is the finding, not this drawing.";
  return out;
}

void draw_bar(Svg& svg, const Json& bar, double y) {
  const double length = bar.at("length");
  svg.line(kMargin, y, kMargin + length, y, "stroke=\"#000\" stroke-width=\"2\"");
  for (const double x : {kMargin, kMargin + length})
    svg.line(x, y - 4, x, y + 4, "stroke=\"#000\" stroke-width=\"1\"");
  svg.text(kMargin + length + 6, y + 3, bar.at("label"), 9, "start");
}

std::string track_svg(const Json& d) {
  const double high = d.at("high");
  const double bottom = high + 2 * kMargin;
  Svg svg(kWidth, bottom + 22, d.at("title").get<std::string>() + ", to scale, north up");
  const auto at = [](const Json& p) {
    return std::pair(kMargin + p.at("x").get<double>(), kMargin + p.at("y").get<double>());
  };
  const Json& points = d.at("points");
  std::vector<std::pair<double, double>> run;
  for (const Json& p : points) {
    if (p.at("hole").get<bool>() && !run.empty()) {
      svg.polyline(run, "stroke=\"#000\" stroke-width=\"1.4\"");
      svg.polyline({run.back(), at(p)},
                   "stroke=\"#000\" stroke-width=\"1\" stroke-dasharray=\"4 3\"");
      run.clear();
    }
    run.push_back(at(p));
  }
  svg.polyline(run, "stroke=\"#000\" stroke-width=\"1.4\"");
  // Small circles stay visible: a dot of two units at least.
  const double radius = std::max(2.0, d.at("circle").get<double>());
  const auto ring = [&](std::pair<double, double> c) {
    std::vector<std::pair<double, double>> round;
    for (int i = 0; i < 32; ++i)
      round.emplace_back(c.first + radius * std::cos(i * std::numbers::pi / 16),
                         c.second + radius * std::sin(i * std::numbers::pi / 16));
    svg.polygon(round, "fill=\"none\" stroke=\"#555\" stroke-width=\"0.7\"");
  };
  const auto first = at(points.front()), last = at(points.back());
  ring(first), ring(last);
  const auto label = [&](std::pair<double, double> c, const std::string& words, double down) {
    const bool right = c.first > kWidth * 0.75;
    svg.text(c.first + (right ? -6 : 6), c.second + down, words, 9, right ? "end" : "start");
  };
  const bool near =
      std::abs(first.first - last.first) < 80 && std::abs(first.second - last.second) < 14;
  label(first, "begin " + d.at("begin").get<std::string>(), -5);
  label(last, "end " + d.at("end").get<std::string>(), near ? 13 : -5);
  svg.line(kWidth - 16, 34, kWidth - 16, 12, "stroke=\"#000\" stroke-width=\"1\"");
  svg.polygon({{kWidth - 20, 16}, {kWidth - 16, 6}, {kWidth - 12, 16}}, "fill=\"#000\"");
  svg.text(kWidth - 16, 46, "N", 9, "middle");
  draw_bar(svg, d.at("bar"), bottom + 8);
  return svg.finish();
}

std::string rope_svg(const Json& d) {
  const double row = 24, top = 24;
  const double rows =
      static_cast<double>(d.at("bars").size()) + (d.at("limit").is_object() ? 1 : 0);
  const double bottom = top + rows * row;
  Svg svg(kWidth, bottom + 34, d.at("title").get<std::string>() + ", to scale");
  svg.text(kMargin, 12, d.at("ends").at("left"), 9, "start");
  svg.text(kMargin + kBox, 12, d.at("ends").at("right"), 9, "end");
  for (const double x : {kMargin, kMargin + kBox})
    svg.line(x, 16, x, bottom, "stroke=\"#999\" stroke-width=\"0.5\"");
  double y = top;
  const auto words = [&](double x, const std::string& text) {
    const bool right = x > kWidth * 0.55;
    svg.text(right ? kMargin + kBox : x, y + 17, text, 9, right ? "end" : "start");
  };
  for (const Json& bar : d.at("bars")) {
    const double x0 = kMargin + bar.at("x0").get<double>(),
                 x1 = kMargin + bar.at("x1").get<double>();
    svg.rect(x0, y, std::max(1.0, x1 - x0), 7, "fill=\"#444\"");
    words(x0, bar.at("words"));
    y += row;
  }
  if (const Json& limit = d.at("limit"); limit.is_object()) {
    svg.rect(kMargin, y, limit.at("length"), 7,
             "fill=\"#fff\" stroke=\"#000\" stroke-width=\"0.8\" stroke-dasharray=\"4 2\"");
    words(kMargin, limit.at("label"));
  }
  draw_bar(svg, d.at("bar"), bottom + 16);
  return svg.finish();
}

}  // namespace

Json way_drawings(const JobRecord& record, const JobFacts& facts, const std::vector<Series>& series,
                  const LocalTime& local) {
  Json out = Json::array();
  const auto add = [&](Json drawing) {
    drawing["exhibit"] = "D" + std::to_string(out.size() + 1);
    out.push_back(std::move(drawing));
  };
  for (const Series& rope : series) {
    if (rope.signal != "line.out") continue;
    if (const auto pulls = pulls_of(facts, rope); !pulls.empty())
      add(rope_drawing(record, pulls, local));
    break;
  }
  if (const auto tag = places_of(record, facts, "gps.tag"); tag.size() > 1)
    add(track(tag, "Track of the car's tag", local));
  if (const auto truck = places_of(record, facts, "gps.truck"); truck.size() > 1)
    add(track(truck, "Route of the truck", local));
  return out;
}

std::string way_svg(const Json& drawing) {
  return drawing.at("kind") == "rope" ? rope_svg(drawing) : track_svg(drawing);
}

}  // namespace fairlead::reports
