#include <algorithm>
#include <cmath>

#include "reports/charts/plot.h"
#include "reports/charts/svg.h"

namespace fairlead::reports {
namespace {

constexpr double kWidth = 680, kLeft = 6, kBar = 55, kBarHeight = 11;
constexpr double kClaimRoom = 118;  // Right of the axis break: when the claim came in.

double seconds(int64_t from, int64_t to) { return static_cast<double>((to - from) / 1000) / 1e3; }

class SpanList {
 public:
  explicit SpanList(int64_t start) : start_(start) {}
  void add(int64_t from, int64_t to, const char* kind, const std::string& words) {
    if (to <= from) return;
    spans_.push_back({{"x0", seconds(start_, from)},
                      {"x1", seconds(start_, to)},
                      {"kind", kind},
                      {"words", words}});
  }
  [[nodiscard]] Json take() { return std::move(spans_); }

 private:
  int64_t start_;
  Json spans_ = Json::array();
};

std::string receiver(const JobRecord& record, const JobFacts& facts) {
  for (auto mark = facts.lines.rbegin(); mark != facts.lines.rend(); ++mark) {
    if (mark->taken_back || !mark->line->has_custody()) continue;
    if (mark->line->custody().has_to()) return card_name(record, mark->line->custody().to());
    break;
  }
  return facts.released_how == "stored" ? "stored" : "released";
}

// Who had the car when. A stretch the record leaves open is a gap, never filled in.
Json spans(const JobRecord& record, const JobFacts& facts) {
  SpanList list(facts.begin_us);
  const std::string us =
      facts.operator_card.empty() ? "operator" : card_name(record, facts.operator_card);
  const int64_t touch = facts.first_touch.value_or(facts.end_us);
  const int64_t end = facts.released.value_or(facts.end_us);
  if (!facts.taken) {
    list.add(facts.begin_us, touch, "outside", "as found");
    list.add(touch, end, "gap", "no taking of custody recorded");
  } else {
    list.add(facts.begin_us, std::min(touch, *facts.taken), "outside", "as found");
    list.add(touch, *facts.taken, "gap", "touched, not yet taken");
    list.add(*facts.taken, end, "held", us);
  }
  if (facts.released) list.add(*facts.released, facts.end_us, "outside", receiver(record, facts));
  for (size_t i = 0; i < facts.gaps.size(); ++i) {
    const auto& gap = facts.gaps[i];
    list.add(gap.from_us, gap.to_us, "silence", "G" + std::to_string(i + 1));
  }
  return list.take();
}

Json marks(const JobFacts& facts, const LocalTime& local) {
  struct Named {
    std::optional<int64_t> at;
    const char* words;
  };
  const Named all[] = {
      {facts.found ? facts.found : facts.arrived, facts.found ? "found" : "arrived"},
      {facts.first_touch, "first touch"},
      {facts.loaded, "loaded"},
      {facts.travel, "travel"},
      {facts.unloaded, "unloaded"},
      {facts.released, "released"},
      {facts.closed, "closed"}};
  Json out = Json::array();
  for (const auto& mark : all) {
    if (!mark.at) continue;
    out.push_back({{"x", seconds(facts.begin_us, *mark.at)},
                   {"words", mark.words},
                   {"time", local.clock(*mark.at)}});
  }
  return out;
}

// Row for each label so that none lies on another: the lowest row with room.
class LabelRows {
 public:
  int row(double from, double to) {
    for (int i = 0; i < kRows; ++i) {
      if (from >= end_[i]) {
        end_[i] = to + 5;
        return i;
      }
    }
    return -1;
  }

 private:
  static constexpr int kRows = 3;
  double end_[kRows] = {-1, -1, -1};
};

void draw_spans(Svg& svg, const Json& chart, double scale) {
  double label_end = 0;
  for (const auto& span : chart.at("spans")) {
    const double x = kLeft + span.at("x0").get<double>() * scale;
    const double width =
        std::max(1.5, (span.at("x1").get<double>() - span.at("x0").get<double>()) * scale);
    const std::string kind = span.at("kind");
    const std::string words = span.at("words");
    if (kind == "silence") {
      svg.hatch(x, kBar + kBarHeight + 2, width, 5);
      continue;
    }
    if (kind == "held") svg.rect(x, kBar, width, kBarHeight, "fill=\"#444\"");
    if (kind == "gap") svg.hatch(x, kBar, width, kBarHeight);
    if (kind == "outside") {
      svg.rect(x, kBar, width, kBarHeight, "fill=\"#fff\" stroke=\"#000\" stroke-width=\"0.6\"");
    }
    const double room = 5.1 * static_cast<double>(words.size());
    const double at = std::max(x + 1, label_end);
    if (at + room > kWidth - kClaimRoom + 40) continue;
    svg.text(at, kBar + kBarHeight + 16, words, 8.5, "start");
    label_end = at + room + 6;
  }
}

void draw_marks(Svg& svg, const Json& chart, double scale) {
  LabelRows rows;
  struct Label {
    double x, from, y;
    std::string words;
  };
  std::vector<Label> labels;
  const double most = kLeft + chart.at("x1").get<double>() * scale;
  for (const auto& mark : chart.at("marks")) {
    const std::string words =
        mark.at("words").get<std::string>() + " " + mark.at("time").get<std::string>();
    const double width = 4.7 * static_cast<double>(words.size());
    const double x = kLeft + mark.at("x").get<double>() * scale;
    // A flag to the right of its pole, or to the left where the drawing ends.
    const double from = x + 2 + width > most + 18 ? x - 2 - width : x + 2;
    const int row = rows.row(from, from + width);
    const double y = kBar - 6 - 13 * std::max(row, 0);
    svg.line(x, row < 0 ? kBar - 4 : y - 7, x, kBar + kBarHeight,
             "stroke=\"#000\" stroke-width=\"0.8\"");
    if (row >= 0) labels.push_back({x, from, y, words});
  }
  for (const auto& label : labels) {
    // White behind the words keeps another mark's pole from striking them through.
    svg.rect(label.from, label.y - 8, 4.7 * static_cast<double>(label.words.size()), 10,
             "fill=\"#fff\"");
    svg.text(label.from, label.y, label.words, 8.5, "start");
  }
}

}  // namespace

Json custody_chart(const JobRecord& record, const JobFacts& facts, const LocalTime& local,
                   std::optional<int64_t> claim_us) {
  Json chart;
  chart["x1"] = std::max(1.0, seconds(facts.begin_us, facts.end_us));
  chart["spans"] = spans(record, facts);
  chart["marks"] = marks(facts, local);
  chart["has_claim"] = claim_us.has_value();
  chart["claim_words"] = "claim received";
  chart["claim_date"] = claim_us ? local.date(*claim_us) : "";
  chart["claim_later"] = claim_us ? span_words(*claim_us - facts.end_us) + " later" : "";
  std::string gaps;
  for (const auto& span : chart["spans"]) {
    if (span.at("kind") != "gap") continue;
    gaps += (gaps.empty() ? "" : "; ") + span.at("words").get<std::string>();
  }
  chart["gaps"] = !facts.released && facts.taken
                      ? (gaps.empty() ? "" : gaps + "; ") + std::string("no release recorded")
                      : gaps;
  chart["whole"] = chart["gaps"].get<std::string>().empty();
  chart["alt"] = "Custody of the car from " + local.date_clock(facts.begin_us) + " to " +
                 local.clock(facts.end_us) +
                 (chart["whole"].get<bool>() ? ", without a hole" : ", with gaps");
  return chart;
}

std::string custody_chart_svg(const Json& chart) {
  Svg svg(kWidth, kBar + kBarHeight + 21, chart.at("alt"));
  const bool claim = chart.at("has_claim");
  const double room = kWidth - 2 * kLeft - (claim ? kClaimRoom : 0);
  const double scale = room / chart.at("x1").get<double>();
  draw_spans(svg, chart, scale);
  draw_marks(svg, chart, scale);
  if (claim) {
    const double x = kWidth - kClaimRoom + 8;
    // Two strokes across the line: from here on the axis is not drawn to time.
    svg.line(x, kBar + kBarHeight + 3, x + 6, kBar - 3, "stroke=\"#000\" stroke-width=\"0.9\"");
    svg.line(x + 5, kBar + kBarHeight + 3, x + 11, kBar - 3,
             "stroke=\"#000\" stroke-width=\"0.9\"");
    const double at = kWidth - 50;
    svg.line(x + 14, kBar + kBarHeight / 2, kWidth - kLeft, kBar + kBarHeight / 2,
             "stroke=\"#000\" stroke-width=\"0.6\"");
    svg.line(at, kBar - 4, at, kBar + kBarHeight + 3, "stroke=\"#000\" stroke-width=\"1.2\"");
    svg.text(at, kBar - 19, chart.at("claim_words"), 8.5, "middle", "font-weight=\"bold\"");
    svg.text(at, kBar - 8, chart.at("claim_date"), 8.5, "middle");
    svg.text(at, kBar + kBarHeight + 16, chart.at("claim_later"), 8.5, "middle");
  }
  return svg.finish();
}

}  // namespace fairlead::reports
