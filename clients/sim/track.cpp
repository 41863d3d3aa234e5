#include "clients/sim/track.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace fairlead::sim {

namespace {
constexpr double kRad = std::numbers::pi / 180;
// A degree of latitude on a sphere of mean radius 6,371,008.8 m (IUGG R1).
constexpr double kMetresPerDegree = 6'371'008.8 * kRad;
constexpr double kStepS = 0.01;

// A normal deviate of our own: the standard library's differs between libraries.
double normal(std::mt19937_64& random) {
  auto uniform = [&] { return (static_cast<double>(random() >> 11) + 0.5) * 0x1p-53; };
  double radius = std::sqrt(-2 * std::log(uniform()));
  return radius * std::cos(2 * std::numbers::pi * uniform());
}
}  // namespace

Track::Track(Profile profile, double origin_lat_deg, double origin_lon_deg, Noise noise)
    : profile_(std::move(profile)),
      lat_deg_(origin_lat_deg),
      lon_deg_(origin_lon_deg),
      noise_(noise),
      random_(noise.seed) {}

std::pair<double, double> Track::truth_m(double seconds) {
  while (at_s_ < seconds) {
    double step = std::min(kStepS, seconds - at_s_);
    double middle = at_s_ + step / 2;
    double speed = profile_.at("speed", middle);
    double course = profile_.at("course", middle) * kRad;
    north_m_ += speed * step * std::cos(course);
    east_m_ += speed * step * std::sin(course);
    at_s_ += step;
  }
  return {north_m_, east_m_};
}

Epoch Track::epoch(double seconds, int64_t time_us) {
  auto [north_m, east_m] = truth_m(seconds);
  double keep = started_ ? std::exp(-(seconds - noise_at_s_) / noise_.position_tau_s) : 0;
  double fresh = noise_.position_sd_m * std::sqrt(1 - keep * keep);
  started_ = true;
  noise_at_s_ = seconds;
  north_error_m_ = keep * north_error_m_ + fresh * normal(random_);
  east_error_m_ = keep * east_error_m_ + fresh * normal(random_);

  Epoch e;
  e.time_us = time_us;
  e.lat_deg = lat_deg_ + (north_m + north_error_m_) / kMetresPerDegree;
  e.lon_deg = lon_deg_ + (east_m + east_error_m_) / (kMetresPerDegree * std::cos(lat_deg_ * kRad));
  e.speed_mps = std::abs(profile_.at("speed", seconds) + noise_.speed_sd_mps * normal(random_));
  e.course_deg = std::fmod(std::fmod(profile_.at("course", seconds), 360.0) + 360.0, 360.0);
  e.lat_sd_m = std::max(noise_.position_sd_m, 0.1);
  e.lon_sd_m = e.lat_sd_m;
  return e;
}

}  // namespace fairlead::sim
