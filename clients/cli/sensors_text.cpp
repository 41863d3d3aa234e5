#include "clients/cli/sensors_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace fairlead::cli {

namespace {
constexpr size_t kWidth = 80;
constexpr int64_t kStaleMs = 5'000;

std::string label(const v1::SensorView& view) {
  bool told = view.channel().starts_with(view.source() + ".");
  return (told ? view.channel() : view.source() + " " + view.channel()).substr(0, 20);
}

bool has_value(const v1::SensorView& view) {
  return view.newest_case() != v1::SensorView::NEWEST_NOT_SET;
}

double shown(const v1::SensorView& view) {
  return view.has_fix() ? view.fix().speed_mps() : view.value();
}

std::string quality_word(const v1::SensorView& view) {
  if (!view.gap().empty()) return "gap";
  if (view.age_ms() > kStaleMs) return "stale";
  switch (view.quality()) {
    case v1::Quality::GOOD:
      return "good";
    case v1::Quality::SUSPECT:
      return "suspect";
    case v1::Quality::OVERLOAD:
      return "overload";
    case v1::Quality::BROKEN:
      return "broken";
    default:
      return "?";
  }
}

std::string age_text(int64_t age_ms) {
  if (age_ms < 0) return "-";
  double s = static_cast<double>(age_ms) / 1000;
  return s < 100 ? fmt::format("{:.1f} s", s) : fmt::format("{:.0f} s", s);
}

template <typename Marks>
std::string strip_of(const Marks& marks) {
  constexpr std::array<const char*, 8> kBars{"▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"};
  double lo = HUGE_VAL, hi = -HUGE_VAL;
  for (const auto& m : marks) {
    if (!m.good) continue;
    lo = std::min(lo, m.value);
    hi = std::max(hi, m.value);
  }
  std::string out;
  for (const auto& m : marks) {
    double share = hi > lo ? (m.value - lo) / (hi - lo) : 0;
    out += m.good ? kBars[static_cast<size_t>(std::clamp(share, 0.0, 1.0) * 7.0 + 0.5)] : "·";
  }
  return out;
}

std::string cut(std::string line) {
  if (line.size() > kWidth) line = line.substr(0, kWidth - 3) + "...";
  return line + "\n";
}
}  // namespace

std::string value_text(double value, const std::string& unit) {
  int decimals = std::abs(value) >= 1000 ? 0 : std::abs(value) >= 100 ? 1 : 2;
  return fmt::format("{:.{}f} {}", value, decimals, unit == "1" ? "" : unit);
}

std::string SensorsTable::text(const v1::GetSensorsResponse& now) {
  std::string out = fmt::format("{:<20} {:>14} {:>7} {:>8} {:<8} {}\n", "CHANNEL", "VALUE", "AGE",
                                "RATE", "QUALITY", "LAST VALUES");
  for (const v1::SensorView& view : now.sensor()) {
    if (!has_value(view)) {
      std::string words = view.gap().empty() ? view.state() : "gap: " + view.gap();
      out += cut(fmt::format("{:<20} {}", label(view), words));
      continue;
    }
    std::deque<Mark>& strip = strips_[{view.source(), view.channel()}];
    std::string quality = quality_word(view);
    strip.push_back({shown(view), quality == "good"});
    if (strip.size() > kStrip) strip.pop_front();
    out += fmt::format("{:<20} {:>14} {:>7} {:>8} {:<8} {}\n", label(view),
                       value_text(shown(view), view.has_fix() ? "m/s" : view.unit()),
                       age_text(view.age_ms()), fmt::format("{:.1f}/s", view.rate_hz()), quality,
                       strip_of(strip));
    if (view.has_fix()) {
      out += cut(fmt::format("  {}D at {:.6f} {:.6f}, sd {:.1f} m", view.fix().mode(),
                             view.fix().lat_deg(), view.fix().lon_deg(), view.fix().h_sd_m()));
    }
    if (!view.gap().empty()) out += cut("  gap: " + view.gap());
    if (!view.calibration().empty()) out += cut("  calibrated: " + view.calibration());
  }
  if (now.sensor().empty()) out += "no channel has said anything yet\n";
  return out;
}

}  // namespace fairlead::cli
