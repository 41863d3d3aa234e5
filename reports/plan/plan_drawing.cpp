#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "reports/charts/svg.h"
#include "reports/plan/plan_report.h"

namespace fairlead::reports {
namespace {

constexpr double kScale = 84;  // User units a metre.
constexpr double kMargin = 28, kTextSize = 11, kSmall = 9.5;
constexpr double kCabAheadM = 1.0, kTruckWheelM = 0.96, kDeckThickM = 0.16, kHeadboardM = 0.75;
constexpr double kCabHighM = 2.5, kDeckWideM = 2.4, kCarWideM = 1.9;
constexpr std::string_view kLine = "stroke=\"#000\" stroke-width=\"1\"";
constexpr std::string_view kThin = "stroke=\"#000\" stroke-width=\"0.6\"";
constexpr std::string_view kStrap = "stroke=\"#000\" stroke-width=\"2.2\"";
constexpr std::string_view kGuess =
    "fill=\"none\" stroke=\"#666\" stroke-width=\"1\" stroke-dasharray=\"5 3\"";

using Points = std::vector<std::pair<double, double>>;

// Where things stand, metres from the truck's front bumper backward; guesses where no file says.
struct Places {
  double front_axle, rear_axle, deck_front, deck_end, deck_up;
  double car_front, car_end, car_front_axle, car_rear_axle, car_high, wheel;
  bool guessed_car = false;
  [[nodiscard]] double length() const { return std::max({deck_end, car_end, rear_axle + 0.6}); }
};

Places places_of(const plan::Outline& o) {
  const auto or_guess = [](double value, double guess) { return value > 0 ? value : guess; };
  Places p{};
  p.front_axle = kCabAheadM;
  p.rear_axle = p.front_axle + or_guess(o.truck_wheelbase, 5.0);
  p.deck_front = p.rear_axle - or_guess(o.deck_ahead, 4.0);
  p.deck_end = p.deck_front + or_guess(o.deck, 6.4);
  p.deck_up = or_guess(o.deck_height, 1.1);
  p.car_front = p.deck_front + o.behind_headboard;
  p.car_end = p.car_front + or_guess(o.car, 4.5);
  p.guessed_car = o.car <= 0 || o.car_wheelbase <= 0 || o.car_height <= 0 || o.wheel <= 0;
  p.car_front_axle = p.car_front + or_guess(o.car_front, 0.9);
  p.car_rear_axle = p.car_front_axle + or_guess(o.car_wheelbase, 2.7);
  p.car_high = or_guess(o.car_height, 1.6);
  p.wheel = or_guess(o.wheel, 0.65);
  return p;
}

class Drawing {
 public:
  explicit Drawing(const plan::Plan& plan)
      : plan_(plan),
        p_(places_of(plan.outline)),
        width_(std::max(720.0, p_.length() * kScale + 2 * kMargin)),
        svg_(width_, kHeight, fmt::format("{} on {}, to scale", plan.vehicle, plan.truck)) {}

  std::string draw() {
    svg_.rect(0, 0, width_, kHeight, "fill=\"#fff\"");
    svg_.text(
        kMargin, 22,
        fmt::format("{} on {}", plan_.vehicle_title.empty() ? plan_.vehicle : plan_.vehicle_title,
                    plan_.truck),
        15, "start", "font-weight=\"bold\"");
    svg_.text(width_ - kMargin, 22, fmt::format("fits: {}", fits_word(plan_.fits)), 15, "end",
              "font-weight=\"bold\"");
    truck();
    car();
    weights();
    lengths();
    from_above();
    foot();
    return svg_.finish();
  }

 private:
  static constexpr double kGround = 330, kTop = 486, kHeight = 800;

  double x(double metres) const { return kMargin + metres * kScale; }
  static double y(double metres) { return kGround - metres * kScale; }

  void circle(double cx, double cy, double r, std::string_view style) {
    Points points;
    for (int i = 0; i < 36; ++i) {
      const double a = i * std::numbers::pi / 18;
      points.push_back({cx + r * std::cos(a), cy + r * std::sin(a)});
    }
    svg_.polygon(points, style);
  }
  void wheel(double at, double up, double metres) {
    circle(x(at), y(up + metres / 2), metres / 2 * kScale,
           "fill=\"#fff\" stroke=\"#000\" stroke-width=\"3\"");
    circle(x(at), y(up + metres / 2), metres / 6 * kScale, "fill=\"#000\"");
  }

  void truck() {
    svg_.line(kMargin / 2, kGround, width_ - kMargin / 2, kGround, kLine);
    const double cab_end = p_.deck_front - 0.12;
    const double sill = kTruckWheelM * 0.55;
    svg_.polygon({{x(0), y(sill)},
                  {x(0), y(1.3)},
                  {x(0.35), y(kCabHighM)},
                  {x(cab_end), y(kCabHighM)},
                  {x(cab_end), y(sill)}},
                 kGuess);
    svg_.rect(x(p_.front_axle), y(p_.deck_up - kDeckThickM - 0.05),
              (p_.deck_end - p_.front_axle - 0.4) * kScale, 0.14 * kScale, "fill=\"#999\"");
    svg_.rect(x(p_.deck_front), y(p_.deck_up), (p_.deck_end - p_.deck_front) * kScale,
              kDeckThickM * kScale, "fill=\"#ddd\" stroke=\"#000\" stroke-width=\"1\"");
    svg_.rect(x(p_.deck_front) - 4, y(p_.deck_up + kHeadboardM), 4, kHeadboardM * kScale,
              "fill=\"#444\"");
    wheel(p_.front_axle, 0, kTruckWheelM);
    wheel(p_.rear_axle, 0, kTruckWheelM);
  }

  // A plain outline: only its lengths, height, overhangs and wheels are the files'.
  void car() {
    const double up = p_.deck_up, low = up + std::max(0.1, plan_.outline.car_clearance);
    const double belt = up + p_.car_high * 0.58, roof = up + p_.car_high;
    const double length = p_.car_end - p_.car_front;
    Points body{{x(p_.car_front), y(low)},
                {x(p_.car_front), y(belt - 0.08)},
                {x(p_.car_front + length * 0.24), y(belt)},
                {x(p_.car_front + length * 0.38), y(roof)},
                {x(p_.car_front + length * 0.72), y(roof)},
                {x(p_.car_front + length * 0.82), y(belt)},
                {x(p_.car_end), y(belt)},
                {x(p_.car_end), y(low)}};
    if (plan_.outline.tail_first)
      for (auto& [at, height] : body) at = x(p_.car_front) + x(p_.car_end) - at;
    svg_.polygon(body,
                 p_.guessed_car ? kGuess : "fill=\"#f2f2f2\" stroke=\"#000\" stroke-width=\"1.2\"");
    for (const double axle : {p_.car_front_axle, p_.car_rear_axle}) {
      wheel(axle, up, p_.wheel);
      if (plan_.straps.empty()) continue;
      // Over the tread, down to the deck before and behind.
      const double r = p_.wheel / 2;
      svg_.polyline({{x(axle - r * 1.9), y(up)},
                     {x(axle - r * 0.72), y(up + r * 1.74)},
                     {x(axle), y(up + r * 2.06)},
                     {x(axle + r * 0.72), y(up + r * 1.74)},
                     {x(axle + r * 1.9), y(up)}},
                    kStrap);
    }
    if (!plan_.outline.centre_ahead || !plan_.outline.mass_kg) return;
    const double centre = p_.rear_axle - *plan_.outline.centre_ahead;
    const double cy = y(up + p_.car_high * 0.4);
    circle(x(centre), cy, 5, "fill=\"#fff\" stroke=\"#000\" stroke-width=\"1.4\"");
    svg_.line(x(centre) - 9, cy, x(centre) + 9, cy, kThin);
    svg_.line(x(centre), cy - 9, x(centre), y(0),
              "stroke=\"#000\" stroke-width=\"0.6\" stroke-dasharray=\"2 3\"");
    svg_.text(x(centre) + 12, cy - 4, fmt::format("{:.0f} kg", *plan_.outline.mass_kg), kTextSize,
              "start");
  }

  const plan::PlanCheck* check(std::string_view id) const {
    const auto found = std::ranges::find(plan_.checks, id, &plan::PlanCheck::id);
    return found == plan_.checks.end() ? nullptr : &*found;
  }

  void weights() {
    const auto under = [&](double axle, double at, const char* name,
                           const std::optional<double>& load, std::string_view id) {
      svg_.polygon(
          {{x(axle), kGround + 4}, {x(axle) - 6, kGround + 16}, {x(axle) + 6, kGround + 16}},
          "fill=\"#000\"");
      svg_.text(
          x(at), kGround + 31,
          load ? fmt::format("{} {:.0f} kg", name, *load) : fmt::format("{}: not known", name),
          kTextSize, "middle", "font-weight=\"bold\"");
      if (const plan::PlanCheck* found = check(id))
        svg_.text(x(at), kGround + 45, margin_text(*found), kSmall, "middle");
    };
    under(p_.front_axle, p_.front_axle + 0.1, "front", plan_.outline.front_kg, "front_axle");
    under(p_.rear_axle, p_.rear_axle, "rear", plan_.outline.rear_kg, "rear_axle");
  }

  void dimension(double from, double to, double at_y, const std::string& words) {
    svg_.line(x(from), at_y, x(to), at_y, kThin);
    for (const double end : {from, to}) svg_.line(x(end), at_y - 5, x(end), at_y + 5, kThin);
    svg_.text((x(from) + x(to)) / 2, at_y - 4, words, kSmall, "middle");
  }

  void lengths() {
    const double above = y(p_.deck_up + p_.car_high) - 20;
    dimension(p_.car_front, p_.car_end, above,
              fmt::format("car {:.2f} m", p_.car_end - p_.car_front));
    const plan::PlanCheck* deck = check("deck_length");
    dimension(p_.deck_front, p_.deck_end, kGround + 74,
              fmt::format("deck {:.2f} m{}", p_.deck_end - p_.deck_front,
                          deck ? fmt::format(" ({})", margin_text(*deck)) : ""));
    dimension(p_.front_axle, p_.rear_axle, kGround + 102,
              fmt::format("wheelbase {:.2f} m", p_.rear_axle - p_.front_axle));
    if (plan_.outline.centre_ahead) {
      const double centre = p_.rear_axle - *plan_.outline.centre_ahead;
      dimension(std::min(centre, p_.rear_axle), std::max(centre, p_.rear_axle), kGround + 130,
                fmt::format("{:.2f} m {} the axle", std::abs(*plan_.outline.centre_ahead),
                            *plan_.outline.centre_ahead >= 0 ? "ahead of" : "behind"));
    }
  }

  // Deck, car and its wheels from above; each strap from its wheel to the nearer edge.
  void from_above() {
    const double deck_y = kTop + 40, wide = kDeckWideM * kScale;
    const double middle = deck_y + wide / 2, half = kCarWideM * kScale / 2;
    svg_.text(kMargin, kTop + 8, "From above; tiedown, credit, share of the sum", kTextSize,
              "start");
    svg_.rect(x(p_.deck_front), deck_y, (p_.deck_end - p_.deck_front) * kScale, wide,
              "fill=\"#ddd\" stroke=\"#000\" stroke-width=\"1\"");
    svg_.rect(x(p_.car_front), middle - half, (p_.car_end - p_.car_front) * kScale, 2 * half,
              p_.guessed_car ? kGuess : "fill=\"#f2f2f2\" stroke=\"#000\" stroke-width=\"1.2\"");
    for (const plan::StrapUse& strap : plan_.straps) {
      // The truck faces left; so does a car drawn on nose first, and its left side lies below.
      const bool turned = plan_.outline.tail_first;
      const bool below = strap.wheel.starts_with("L") != turned;
      const bool front = strap.wheel.ends_with("F") != turned;
      const double axle = front ? p_.car_front_axle : p_.car_rear_axle;
      const double side = below ? 1 : -1, edge = middle + side * wide / 2;
      const double near = middle + side * (half - 0.26 * kScale), r = p_.wheel / 2;
      svg_.rect(x(axle - r), std::min(near, middle + side * half), 2 * r * kScale, 0.26 * kScale,
                "fill=\"#000\"");
      for (const double end : {-1.9, 1.9})
        svg_.line(x(axle), middle + side * (half - 0.13 * kScale), x(axle + r * end), edge, kStrap);
      svg_.text(x(axle), below ? edge + 15 : edge - 6,
                fmt::format("{} {}: {:.0f} kg, {:.0f} %", strap.wheel, strap.gear, strap.credit_kg,
                            strap.share * 100),
                kSmall, "middle");
    }
    if (const plan::PlanCheck* strength = check("strength"))
      svg_.text((x(p_.car_front) + x(p_.car_end)) / 2, middle + 4,
                fmt::format("credits over half the mass: {}", margin_text(*strength)), kTextSize,
                "middle");
  }

  void foot() {
    const double at = kHeight - 38;
    svg_.line(x(0), at, x(1), at, kLine);
    for (const double end : {0.0, 1.0}) svg_.line(x(end), at - 4, x(end), at + 4, kLine);
    svg_.text(x(1) + 8, at + 4,
              "1 m. Lengths and wheels as in the files; shapes and dashed lines are guesses.",
              kSmall, "start");
    svg_.text(x(0), at + 22, "The makers' guides, local rules and licensed practice go first.",
              kSmall, "start");
  }

  const plan::Plan& plan_;
  Places p_;
  double width_;
  Svg svg_;
};

}  // namespace

std::string plan_drawing(const plan::Plan& plan) { return Drawing(plan).draw(); }

}  // namespace fairlead::reports
