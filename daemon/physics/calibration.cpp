#include "daemon/physics/calibration.h"

#include <fmt/format.h>

#include <charconv>
#include <cmath>

namespace fairlead::physics {

namespace {
constexpr double kApart = 10;  // Standard deviations between two readings of different loads.
constexpr double kLeastSpan = 0.2, kMostSpan = 5;

std::optional<double> number_after(std::string_view text, std::string_view name) {
  size_t at = text.find(name);
  if (at == std::string_view::npos) return std::nullopt;
  text.remove_prefix(at + name.size());
  double value = 0;
  auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || !std::isfinite(value)) return std::nullopt;
  return value;
}
}  // namespace

double calibrated(const Calibration& calibration, double reading) {
  return (reading - calibration.zero) * calibration.span;
}

double uncalibrated(const Calibration& calibration, double value) {
  return value / calibration.span + calibration.zero;
}

Result<Calibration> two_point(const CalibrationPoint& low, const CalibrationPoint& high) {
  for (double number :
       {low.load, low.reading, low.reading_sd, high.load, high.reading, high.reading_sd}) {
    if (!std::isfinite(number)) {
      return fail(Code::kBadInput, "calibration: a number is missing; read both loads again");
    }
  }
  if (low.load == high.load) {
    return fail(Code::kBadInput, "calibration: both loads are the same; take two that differ");
  }
  double step = high.reading - low.reading;
  if (step == 0 || std::abs(step) < kApart * std::hypot(low.reading_sd, high.reading_sd)) {
    return fail(Code::kBadInput,
                fmt::format("calibration: the readings {:.6g} and {:.6g} do not stand apart; check "
                            "that the load hangs still on the cell",
                            low.reading, high.reading));
  }
  Calibration out;
  out.span = (high.load - low.load) / step;
  out.zero = low.reading - low.load / out.span;
  if (!(out.span >= kLeastSpan && out.span <= kMostSpan)) {
    return fail(
        Code::kBadInput,
        fmt::format("calibration: the span comes out as {:.4g}; check the load's figure and "
                    "the register's scale first",
                    out.span));
  }
  return out;
}

std::string calibration_text(const Calibration& calibration) {
  return fmt::format("{} of {}; zero {}; span {}", calibration.certificate, calibration.date,
                     calibration.zero, calibration.span);
}

std::optional<Calibration> calibration_from_text(std::string_view text) {
  auto zero = number_after(text, "; zero ");
  auto span = number_after(text, "; span ");
  size_t of = text.find(" of ");
  if (!zero || !span || *span == 0 || of == std::string_view::npos) return std::nullopt;
  Calibration out;
  out.certificate = text.substr(0, of);
  std::string_view rest = text.substr(of + 4);
  out.date = rest.substr(0, rest.find(';'));
  out.zero = *zero;
  out.span = *span;
  return out;
}

}  // namespace fairlead::physics
