#include "daemon/record/observation_ranges.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace fairlead::record {
namespace {

struct SignalRange {
  std::string_view signal;
  SaneRange range;
  double resolution;
};

constexpr std::array kSignals = {
    SignalRange{"line.pull", {-5'000, 1'000'000, "N"}, 1},
    SignalRange{"line.out", {-5, 200, "m"}, 0.001},
    SignalRange{"clamp.volts", {-100, 100, "V"}, 0.001},
    SignalRange{"clamp.amps", {-3'000, 3'000, "A"}, 0.001},
    SignalRange{"clamp.pos.contact", {0, 1, "(0 or 1)", true}, 1},
    SignalRange{"clamp.neg.contact", {0, 1, "(0 or 1)", true}, 1},
    SignalRange{"battery.temp", {-60, 1'500, "degC"}, 0.01},
    SignalRange{"deck.tilt", {-90, 90, "deg"}, 0.001},
    SignalRange{"deck.accel_x", {-500, 500, "m/s2"}, 0.001},
    SignalRange{"deck.accel_y", {-500, 500, "m/s2"}, 0.001},
    SignalRange{"deck.accel_z", {-500, 500, "m/s2"}, 0.001},
    SignalRange{"truck.speed", {0, 60, "m/s"}, 0.001},
    SignalRange{"vehicle.speed", {0, 60, "m/s"}, 0.001},
};

constexpr auto kSignalNames = [] {
  std::array<std::string_view, kSignals.size()> names{};
  std::transform(kSignals.begin(), kSignals.end(), names.begin(),
                 [](const SignalRange& s) { return s.signal; });
  return names;
}();

struct FieldRange {
  std::string_view message, field;
  SaneRange range;
};

// A clock that starts in 1970 is 1.8e12 ms off in our days.
constexpr double kClockMs = 4e12;

constexpr std::array kFields = {
    FieldRange{"Observation", "seq", {1, 4'294'967'295.0, "(a count from 1)"}},
    FieldRange{"Observation", "time_uncertainty_ms", {0, kClockMs, "ms"}},
    FieldRange{"SourceSeq", "seq", {1, 4'294'967'295.0, "(a count from 1)"}},
    FieldRange{"Undo", "seq", {1, 4'294'967'295.0, "(a count from 1)"}},
    FieldRange{"Opened", "mass_kg", {1, 60'000, "kg"}},
    FieldRange{"Opened", "mass_sd_kg", {0, 60'000, "kg"}},
    FieldRange{"Found", "grade_deg", {-90, 90, "deg"}},
    FieldRange{"Condition", "size_mm", {0, 100'000, "mm"}},
    FieldRange{"SourcePower", "nominal_volts", {-100, 100, "V"}},
    FieldRange{"Rigging", "legs_angle_deg", {0, 179, "deg"}},
    FieldRange{"Deck", "tilt_deg", {-90, 90, "deg"}},
    FieldRange{"Heat", "celsius", {-60, 1'500, "degC"}},
    FieldRange{"Isolation", "metres", {0, 10'000, "m"}},
    FieldRange{"Fix", "lat_deg", {-90, 90, "deg"}},
    FieldRange{"Fix", "lon_deg", {-180, 180, "deg"}},
    FieldRange{"Fix", "speed_mps", {0, 60, "m/s"}},
    FieldRange{"Fix", "course_deg", {0, 360, "deg"}},
    FieldRange{"Fix", "h_sd_m", {0, 1'000'000, "m"}},
    FieldRange{"Fix", "speed_sd_mps", {0, 1'000, "m/s"}},
    FieldRange{"Fix", "mode", {0, 3, "(0 unseen, 1 none, 2 2D, 3 3D)"}},
    FieldRange{"ClockOffset", "offset_ms", {-kClockMs, kClockMs, "ms"}},
    FieldRange{"ClockOffset", "sd_ms", {0, kClockMs, "ms"}},
};

}  // namespace

std::span<const std::string_view> signal_names() { return kSignalNames; }

std::optional<SaneRange> range_of_signal(std::string_view signal) {
  const auto found = std::ranges::find(kSignals, signal, &SignalRange::signal);
  if (found == kSignals.end()) return std::nullopt;
  return found->range;
}

std::optional<double> resolution_of_signal(std::string_view signal) {
  const auto found = std::ranges::find(kSignals, signal, &SignalRange::signal);
  if (found == kSignals.end()) return std::nullopt;
  return found->resolution;
}

int64_t quantised_count(double value, double resolution) {
  return static_cast<int64_t>(std::floor(value / resolution + 0.5));
}

std::optional<SaneRange> range_of_field(std::string_view message, std::string_view field) {
  const auto found = std::ranges::find_if(
      kFields, [&](const FieldRange& f) { return f.message == message && f.field == field; });
  if (found == kFields.end()) return std::nullopt;
  return found->range;
}

}  // namespace fairlead::record
