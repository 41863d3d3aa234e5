// Readings of the way onto the deck and of the pull: geometry of the files' figures with the tilt
// that was noted, the greatest pull and the steepest rise of it.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "daemon/physics/deck.h"
#include "daemon/plan/numbers.h"
#include "reports/claim/readings.h"

namespace fairlead::reports {
namespace {

constexpr double kTiltU = 1.645 * 2;  // Degrees: the record's default deviation of a deck tilt.
constexpr int64_t kRiseUs = 500'000;

struct Slopes {
  std::optional<double> deck_deg;  // Steepest noted until the car was on the deck.
  double ground_deg = 0;
  bool ground_said = false, ramp = false;
};

Slopes slopes_of(const JobFacts& facts) {
  Slopes out;
  for (const auto& mark : facts.lines) {
    if (mark.taken_back) continue;
    const v1::Observation& line = *mark.line;
    if (line.has_found() && line.found().has_grade_deg()) {
      out.ground_deg = line.found().grade_deg();
      out.ground_said = true;
    }
    if (line.has_ramp() && line.ramp().on()) out.ramp = true;
    const bool loading = !facts.loaded || mark.time_us <= *facts.loaded;
    if (loading && line.has_deck() && line.deck().has_tilt_deg())
      out.deck_deg = std::max(out.deck_deg.value_or(0), line.deck().tilt_deg());
  }
  return out;
}

std::optional<physics::Underside> underside_of(const v1::Vehicle& car) {
  const auto metres = [](const std::string& text) {
    return plan::figure(text, Dimension::kLength);
  };
  const auto base = metres(car.wheelbase()), front = metres(car.front_overhang()),
             rear = metres(car.rear_overhang()), clearance = metres(car.clearance());
  if (!base || !front || !rear || !clearance) return std::nullopt;
  return physics::Underside{.wheelbase_m = *base,
                            .front_overhang_m = *front,
                            .rear_overhang_m = *rear,
                            .clearance_m = physics::exactly(*clearance),
                            .wheel_radius_m = metres(car.wheel_diameter()).value_or(0) / 2};
}

struct Rooms {
  std::optional<physics::Interval> front, belly;
};

Rooms rooms_of(const physics::Underside& car, const Slopes& slopes) {
  Rooms out;
  const auto rooms =
      physics::way_room(car, {.ground_deg = physics::exactly(slopes.ground_deg),
                              .ramp_deg = {},
                              .deck_deg = physics::plus_minus(*slopes.deck_deg, kTiltU)});
  if (!rooms) return out;
  const auto take = [](std::optional<physics::Interval>& into,
                       const std::optional<physics::Interval>& room) {
    if (!room) return;
    into = into ? physics::Interval{std::min(into->lo, room->lo), std::min(into->hi, room->hi)}
                : *room;
  };
  for (const auto& room : *rooms) {
    take(out.front, room.approach_m);
    take(out.belly, room.break_over_m);
  }
  return out;
}

void add_room(const char* id, const char* title, const std::optional<physics::Interval>& room,
              const Slopes& slopes, std::vector<Reading>& out) {
  if (!room) return;
  Reading r{id, title, Side::kNotShown, "", "above 0 cm", "worked out", ""};
  // Outward, in whole centimetres.
  r.value = fmt::format("{} to {} cm", fixed(std::floor(room->lo * 100), 0),
                        fixed(std::ceil(room->hi * 100), 0));
  r.words = fmt::format(
      "from the vehicle file's clearance and lengths and a deck tilt of {} deg (+- {}), ground {}; "
      "springs, tyres, load and ride height left out",
      fixed(*slopes.deck_deg, 0), fixed(kTiltU, 1),
      slopes.ground_said ? fixed(slopes.ground_deg, 0) + " deg" : "taken as level");
  if (slopes.ramp) {
    r.words += "; ramps were laid, and their slope is not on record";
  } else {
    r.side = room->lo > 0 ? Side::kInside : room->hi < 0 ? Side::kOutside : Side::kNotShown;
  }
  out.push_back(std::move(r));
}

void add_way(const ReadingInput& in, std::vector<Reading>& out) {
  const v1::Vehicle* car = vehicle_of(in);
  const Slopes slopes = slopes_of(in.facts);
  if (car == nullptr || !slopes.deck_deg || *slopes.deck_deg <= 0) return;
  const auto underside = underside_of(*car);
  if (!underside) return;
  const Rooms rooms = rooms_of(*underside, slopes);
  add_room("approach_margin", "Front edge clears the deck's tail", rooms.front, slopes, out);
  add_room("break_over", "Belly clears the edge", rooms.belly, slopes, out);
  if (rooms.front && (rooms.front->lo <= 0 || slopes.ramp)) {
    Reading r{"ramps_if_negative",
              "Ramps where the edge would not clear",
              Side::kNotShown,
              "",
              "ramps laid",
              "said",
              ""};
    r.value = slopes.ramp ? "ramps noted" : "no ramps noted";
    r.side = slopes.ramp ? Side::kInside : rooms.front->hi < 0 ? Side::kOutside : Side::kNotShown;
    r.words = "a picture of the ramps, where there is one, stands among the exhibits";
    out.push_back(std::move(r));
  }
}

const Series* series_of_signal(const ReadingInput& in, std::string_view signal) {
  for (const auto& series : in.series) {
    if (series.signal == signal && !series.points.empty()) return &series;
  }
  return nullptr;
}

// Rope out at a moment: the reading nearest in time, within five seconds.
std::string rope_words(const ReadingInput& in, int64_t at_us) {
  const Series* rope = series_of_signal(in, "line.out");
  if (rope == nullptr) return "";
  const auto nearest = std::min_element(
      rope->points.begin(), rope->points.end(), [&](const SeriesPoint& a, const SeriesPoint& b) {
        return std::abs(a.time_us - at_us) < std::abs(b.time_us - at_us);
      });
  if (std::abs(nearest->time_us - at_us) > 5'000'000) return "";
  return ", with " + fixed(nearest->value, 1) + " m of line out";
}

void add_pull(const ReadingInput& in, std::vector<Reading>& out) {
  const Series* pull = series_of_signal(in, "line.pull");
  if (pull == nullptr) return;
  const auto peak = std::max_element(
      pull->points.begin(), pull->points.end(),
      [](const SeriesPoint& a, const SeriesPoint& b) { return a.value < b.value; });
  out.push_back({"pull_peak", "Greatest pull in the line", Side::kFigure,
                 fixed(peak->value, 1) + " kN (+- " + fixed(peak->half_width, 1) + ")", "",
                 "measured",
                 "at " + in.local.clock(peak->time_us) + rope_words(in, peak->time_us)});
  double rise = 0;
  const SeriesPoint* at = nullptr;
  size_t low = 0;  // Oldest reading of the half second; the lowest in it is found by walking.
  for (size_t i = 0; i < pull->points.size(); ++i) {
    while (pull->points[i].time_us - pull->points[low].time_us > kRiseUs) ++low;
    for (size_t k = low; k < i; ++k) {
      if (pull->points[i].value - pull->points[k].value <= rise) continue;
      rise = pull->points[i].value - pull->points[k].value;
      at = &pull->points[i];
    }
  }
  if (at == nullptr) return;
  out.push_back({"pull_rise", "Steepest rise of the pull within half a second", Side::kFigure,
                 fixed(rise, 1) + " kN", "", "measured",
                 "at " + in.local.clock(at->time_us) + rope_words(in, at->time_us) +
                     "; a jerk shorter than the readings lie apart does not show"});
}

}  // namespace

void add_deck_readings(const ReadingInput& in, std::vector<Reading>& out) {
  add_way(in, out);
  add_pull(in, out);
}

}  // namespace fairlead::reports
