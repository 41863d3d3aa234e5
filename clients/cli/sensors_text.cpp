#include "clients/cli/sensors_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <sstream>
#include <utility>

namespace fairlead::cli {

namespace {
constexpr size_t kWidth = 80;
constexpr int64_t kStaleMs = 5'000;

std::string label(const v1::SensorView& view) {
  // A plug-in that has described nothing yet speaks of itself by its id alone.
  bool told = view.channel() == view.source() || view.channel().starts_with(view.source() + ".");
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
  if (!has_value(view)) return "-";
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

// Below its channel's row, in as many rows as it takes: the end of a cause says what to do.
std::string below(const std::string& text) {
  std::string out, row;
  auto close = [&] { out += "  " + std::exchange(row, "") + "\n"; };
  std::istringstream words(text);
  for (std::string word; words >> word;) {
    if (!row.empty() && 2 + row.size() + 1 + word.size() > kWidth) {
      close();
      row = " ";
    }
    row += (row.empty() ? "" : " ") + word;
  }
  close();
  return out;
}
}  // namespace

std::string value_text(double value, const std::string& unit) {
  int decimals = std::abs(value) >= 1000 ? 0 : std::abs(value) >= 100 ? 1 : 2;
  std::string digits = fmt::format("{:.{}f}", value, decimals);
  return unit.empty() || unit == "1" ? digits : digits + " " + unit;
}

std::string SensorsTable::text(const v1::GetSensorsResponse& now) {
  std::string out = fmt::format("{:<20} {:>14} {:>7} {:>8} {:<8} {}\n", "CHANNEL", "VALUE", "AGE",
                                "RATE", "QUALITY", "LAST VALUES");
  for (const v1::SensorView& view : now.sensor()) {
    std::deque<Mark>& strip = strips_[{view.source(), view.channel()}];
    std::string quality = quality_word(view);
    if (has_value(view)) strip.push_back({shown(view), quality == "good"});
    if (strip.size() > kStrip) strip.pop_front();
    std::string unit = view.has_fix() ? "m/s" : view.unit();
    out +=
        fmt::format("{:<20} {:>14} {:>7} {:>8} {:<8} {}\n", label(view),
                    has_value(view) ? value_text(shown(view), unit) : "-", age_text(view.age_ms()),
                    fmt::format("{:.1f}/s", view.rate_hz()), quality, strip_of(strip));
    if (view.has_fix()) {
      out += below(fmt::format("{}D at {:.6f} {:.6f}, sd {:.1f} m", view.fix().mode(),
                               view.fix().lat_deg(), view.fix().lon_deg(), view.fix().h_sd_m()));
    }
    if (!view.gap().empty()) out += below("gap: " + view.gap());
    if (!has_value(view) && view.gap().empty()) out += below(view.state());
    if (!view.calibration().empty()) out += below("calibrated: " + view.calibration());
  }
  if (now.sensor().empty()) out += "no channel has said anything yet\n";
  return out;
}

}  // namespace fairlead::cli
