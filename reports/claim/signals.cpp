#include "reports/claim/signals.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "daemon/base/time_text.h"
#include "daemon/base/units.h"
#include "reports/text.h"

namespace fairlead::reports {
namespace {

struct SignalKind {
  const char* signal;
  const char* title;
  const char* unit;
  Dimension dimension;
  double per_si;  // Display unit in one SI unit of the sample.
  int decimals;
  double sd_share, sd_si;
  double longest_gap_s;
  bool on_off;
};

constexpr SignalKind kKinds[] = {
    {"line.pull", "Line pull", "kN", Dimension::kForce, 1e-3, 1, 0.01, 20, 5, false},
    {"line.out", "Line paid out", "m", Dimension::kLength, 1, 1, 0, 0.05, 5, false},
    {"vehicle.speed", "Speed of the car", "km/h", Dimension::kSpeed, 3.6, 1, 0, 0.2, 3, false},
    {"truck.speed", "Speed of the truck", "km/h", Dimension::kSpeed, 3.6, 0, 0, 0.2, 3, false},
    {"clamp.volts", "Voltage at the clamps", "V", Dimension::kVoltage, 1, 1, 0.01, 0, 2, false},
    {"clamp.amps", "Current at the clamps", "A", Dimension::kCurrent, 1, 0, 0.01, 0, 2, false},
    {"clamp.pos.contact", "Positive jaw touches", "", Dimension::kCount, 1, 0, 0, 0, 600, true},
    {"clamp.neg.contact", "Negative jaw touches", "", Dimension::kCount, 1, 0, 0, 0, 600, true},
    {"deck.tilt", "Tilt of the deck", "deg", Dimension::kAngle, 1, 1, 0, 2, 600, false},
    {"battery.temp", "Battery temperature", "degC", Dimension::kTemperature, 1, 1, 0, 2, 600,
     false},
    {"deck.accel_x", "Acceleration along", "m/s2", Dimension::kAcceleration, 1, 1, 0, 0.1, 1,
     false},
    {"deck.accel_y", "Acceleration across", "m/s2", Dimension::kAcceleration, 1, 1, 0, 0.1, 1,
     false},
    {"deck.accel_z", "Acceleration upward", "m/s2", Dimension::kAcceleration, 1, 1, 0, 0.1, 1,
     false},
};

const SignalKind* kind_of(std::string_view signal) {
  for (const auto& kind : kKinds) {
    if (signal == kind.signal) return &kind;
  }
  return nullptr;
}

double stored_per_si(Dimension dimension) {
  switch (dimension) {
    case Dimension::kForce:
    case Dimension::kCount:
      return 1;
    case Dimension::kTemperature:
      return 100;
    default:
      return 1000;
  }
}

Series start_series(const std::string& signal, const std::string& source) {
  Series series;
  series.signal = signal;
  series.source = source;
  series.title = shown(signal);
  if (const SignalKind* kind = kind_of(signal)) {
    series.title = kind->title;
    series.unit = kind->unit;
    series.decimals = kind->decimals;
    series.longest_gap_s = kind->longest_gap_s;
    series.on_off = kind->on_off;
  }
  return series;
}

// How wide a signal's readings are: worked out once a signal, since a job has them by the hundred
// thousand.
struct Deviation {
  double share = 0, si = 0;
  bool own = false;  // The register's figure, which goes before the reading's own.
};

Deviation deviation_of(const JobRecord& record, const std::string& signal) {
  const SignalKind* kind = kind_of(signal);
  if (kind == nullptr) return {};
  const v1::Sensor* sensor = sensor_of(record, signal);
  if (sensor != nullptr && !sensor->sd().empty()) {
    const auto number = [](const auto& quantity) {
      return static_cast<double>(quantity->stored.num) / static_cast<double>(quantity->stored.den);
    };
    if (const auto own = parse_quantity(sensor->sd(), kind->dimension))
      return {0, number(own) / stored_per_si(kind->dimension), true};
    if (const auto share = parse_quantity(sensor->sd(), Dimension::kShare))
      return {number(share) / 1e6, 0, true};
  }
  return {kind->sd_share, kind->sd_si, false};
}

// One-sided 95 % half-width in the display unit: 1.645 standard deviations.
double half_width(const SignalKind* kind, const Deviation& deviation, double value_si,
                  std::optional<double> stated_sd_si) {
  if (kind == nullptr || kind->on_off) return 0;
  const double sd = stated_sd_si && !deviation.own
                        ? *stated_sd_si
                        : std::abs(value_si) * deviation.share + deviation.si;
  return 1.645 * sd * kind->per_si;
}

bool is_good(const v1::Observation& line) {
  return !line.has_quality() || line.quality() == v1::Quality::GOOD;
}

}  // namespace

std::vector<Series> series_of(const JobRecord& record) {
  std::vector<Series> all;
  std::map<std::pair<std::string, std::string>, size_t> at;
  std::map<std::string, Deviation> deviations;
  for (const auto& line : record.lines) {
    std::string signal;
    double value = 0;
    std::optional<double> sd;
    if (line.has_sample()) {
      signal = line.sample().signal();
      value = line.sample().value();
    } else if (line.has_fix() && (line.source() == "gps.tag" || line.source() == "gps.truck")) {
      signal = line.source() == "gps.tag" ? "vehicle.speed" : "truck.speed";
      value = line.fix().speed_mps();
      if (line.fix().has_speed_sd_mps()) sd = line.fix().speed_sd_mps();
    } else {
      continue;
    }
    const auto time = parse_time_us(line.time());
    if (!time || !std::isfinite(value)) continue;
    const auto [place, fresh] = at.try_emplace({signal, line.source()}, all.size());
    if (fresh) all.push_back(start_series(signal, line.source()));
    Series& series = all[place->second];
    if (!is_good(line)) {
      ++series.not_good;
      continue;
    }
    const SignalKind* kind = kind_of(signal);
    auto known = deviations.find(signal);
    if (known == deviations.end())
      known = deviations.emplace(signal, deviation_of(record, signal)).first;
    series.points.push_back(
        {*time, value * (kind ? kind->per_si : 1), half_width(kind, known->second, value, sd)});
  }
  std::erase_if(all, [](const Series& s) { return s.points.empty() && s.not_good == 0; });
  for (auto& series : all) {
    std::stable_sort(series.points.begin(), series.points.end(),
                     [](const auto& a, const auto& b) { return a.time_us < b.time_us; });
  }
  return all;
}

std::string signal_behind(std::string_view quantity, const std::vector<Series>& series) {
  const auto recorded = [&](std::string_view signal) {
    return std::any_of(series.begin(), series.end(),
                       [&](const Series& s) { return s.signal == signal; });
  };
  if (quantity == "vehicle.rolled" || quantity == "vehicle.speed") {
    if (recorded("line.out")) return "line.out";
    return "vehicle.speed";
  }
  if (quantity == "line.leg_pull") return "line.pull";
  if (quantity == "truck.driven") return "truck.speed";
  if (quantity.find(" before ") != std::string_view::npos) {
    const bool clamps = quantity.find("clamp.") != std::string_view::npos;
    return clamps && recorded("clamp.pos.contact") ? "clamp.pos.contact" : "";
  }
  return kind_of(quantity) != nullptr ? std::string(quantity) : "";
}

std::optional<double> limit_in_unit(const Series& series, std::string_view limit) {
  const SignalKind* kind = kind_of(series.signal);
  if (kind == nullptr || kind->on_off) return std::nullopt;
  for (const std::string_view bound : {"under ", "at most ", "at least "}) {
    if (limit.starts_with(bound)) limit.remove_prefix(bound.size());
  }
  const auto quantity = parse_quantity(limit, kind->dimension);
  if (!quantity) return std::nullopt;
  return static_cast<double>(quantity->stored.num) / static_cast<double>(quantity->stored.den) /
         stored_per_si(kind->dimension) * kind->per_si;
}

const v1::Sensor* sensor_of(const JobRecord& record, std::string_view signal) {
  std::string truck;
  for (const auto& line : record.lines) {
    if (line.has_opened()) truck = line.opened().truck();
  }
  const v1::Sensor* found = nullptr;
  for (const auto& sensor : record.register_files.sensor()) {
    if (sensor.channel() != signal) continue;
    if (!sensor.truck().empty() && sensor.truck() != truck) continue;
    if (found == nullptr || (found->truck().empty() && !sensor.truck().empty())) found = &sensor;
  }
  // A receiver is registered under what it gives, not under the speed read from it.
  if (found == nullptr && signal == "vehicle.speed") return sensor_of(record, "gps.tag");
  if (found == nullptr && signal == "truck.speed") return sensor_of(record, "gps.truck");
  return found;
}

Calibration calibration_of(const JobRecord& record, std::string_view signal,
                           std::optional<int64_t> time_us) {
  const v1::Sensor* sensor = sensor_of(record, signal);
  if (sensor == nullptr) return {false, "instrument not in the register: no calibration on record"};
  std::string words = shown(sensor->id());
  if (sensor->certificate().empty()) return {false, words + ", no certificate on record"};
  words += ", certificate " + shown(sensor->certificate());
  const auto until = parse_date_us(sensor->valid_until());
  if (!until) return {false, words + ", no date on record"};
  const auto from = parse_date_us(sensor->valid_from());
  words += from ? ", " + LocalTime(0, "").date(*from) + " to " : ", until ";
  words += LocalTime(0, "").date(*until);
  constexpr int64_t kDay = 86'400'000'000;
  if (time_us && *time_us >= *until + kDay) return {false, words + ": run out before this job"};
  if (time_us && from && *time_us < *from) return {false, words + ": not yet valid at this job"};
  return {true, words};
}

}  // namespace fairlead::reports
