// Zero and span of an instrument by two known loads: the straight line through two points.
//
//   value = (reading - zero) x span      span = (load2 - load1) / (reading2 - reading1)
//                                        zero = reading1 - load1 / span
//
// Threads: pure functions. Units: readings, loads, zero and values in the signal's own unit.
#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead::physics {

struct Calibration {
  std::string certificate;
  std::string date;  // 2026-03-02
  double zero = 0;
  double span = 1;
};

[[nodiscard]] double calibrated(const Calibration& calibration, double reading);
/// The reading that gave this value.
[[nodiscard]] double uncalibrated(const Calibration& calibration, double value);

struct CalibrationPoint {
  double load = 0;
  double reading = 0;
  double reading_sd = 0;
};
/// Errors: kBadInput in words when a number is not finite, the loads are the same, the readings do
/// not stand apart by ten of their standard deviations, or the span comes out beyond 0.2 to 5: then
/// the scale in the settings is wrong, or the load.
[[nodiscard]] Result<Calibration> two_point(const CalibrationPoint& low,
                                            const CalibrationPoint& high);

/// "C-17 of 2026-03-02; zero 12.5; span 1.0031", for the record and back.
[[nodiscard]] std::string calibration_text(const Calibration& calibration);
[[nodiscard]] std::optional<Calibration> calibration_from_text(std::string_view text);

}  // namespace fairlead::physics
