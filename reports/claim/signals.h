// Recorded signals of a job as series with uncertainty, in the unit a reader expects.
//
// Threads: pure functions. Units: points carry microseconds and the display unit of their signal.
// Default deviations and longest holes are the procedure defaults of the record's vocabulary; a
// register sensor's own figure goes first.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "reports/job_record.h"

namespace fairlead::reports {

struct SeriesPoint {
  int64_t time_us = 0;
  double value = 0;
  double half_width = 0;  // One-sided 95 %.
};

struct Series {
  std::string signal;  // "line.pull", "vehicle.speed"
  std::string source;
  std::string title;  // "Line pull"
  std::string unit;   // "kN"
  int decimals = 1;
  double longest_gap_s = 5;
  bool on_off = false;
  std::vector<SeriesPoint> points;  // In time order, good ones only.
  uint64_t not_good = 0;            // Samples whose quality was not GOOD: not drawn.
};

/// One series a signal and source, in order of first appearance. A fix of gps.tag gives
/// vehicle.speed, one of gps.truck truck.speed.
[[nodiscard]] std::vector<Series> series_of(const JobRecord& record);

/// Signal that a judged quantity comes from: vehicle.rolled -> line.out where that was recorded, an
/// order of clamps -> their contacts. Empty: no instrument gives it (marks, counts, plates).
[[nodiscard]] std::string signal_behind(std::string_view quantity,
                                        const std::vector<Series>& series);

/// A limit text ("5 km/h") in the series' unit; nullopt when it is no quantity of that kind.
[[nodiscard]] std::optional<double> limit_in_unit(const Series& series, std::string_view limit);

/// The register's sensor of a signal on this job's truck (its own truck's entry goes first).
[[nodiscard]] const v1::Sensor* sensor_of(const JobRecord& record, std::string_view signal);

/// When the calibration stood at `time_us`: certificate and dates in words; `in_date` is false when
/// no sensor, no certificate or no valid date is on record.
struct Calibration {
  bool in_date = false;
  std::string words;
};
[[nodiscard]] Calibration calibration_of(const JobRecord& record, std::string_view signal,
                                         std::optional<int64_t> time_us);

}  // namespace fairlead::reports
