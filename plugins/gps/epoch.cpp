#include "plugins/gps/epoch.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

namespace fairlead::gps {

namespace {
// Documented in README.md: this many exact zeros in a row while the position moved by more than
// this many standard deviations of both ends together.
constexpr int kFrozenAfter = 5;
constexpr double kFrozenSigmas = 4.0;
}  // namespace

EpochMerger::Out EpochMerger::push(const Tpv& tpv, sdk::Stamp at) {
  Out out;
  if (tpv.mode < 2) {
    out = flush();
    out.lost_fix = had_fix_.value_or(true);
    had_fix_ = false;
    return out;
  }
  if (!tpv.time_us) return out;
  if (given_time_us_ && *tpv.time_us == *given_time_us_) return out;
  bool other = pending_ && pending_->time_us != tpv.time_us;
  if (other) out = flush();
  if (!pending_) first_ = at;
  last_mono_us_ = at.mono_us;
  merge(tpv);
  return out;
}

void EpochMerger::merge(const Tpv& tpv) {
  if (!pending_) {
    pending_ = tpv;
    return;
  }
  auto take = [](std::optional<double>& into, const std::optional<double>& from) {
    if (from) into = from;
  };
  pending_->mode = std::max(pending_->mode, tpv.mode);
  take(pending_->lat_deg, tpv.lat_deg);
  take(pending_->lon_deg, tpv.lon_deg);
  take(pending_->speed_mps, tpv.speed_mps);
  take(pending_->track_deg, tpv.track_deg);
  take(pending_->epx_m, tpv.epx_m);
  take(pending_->epy_m, tpv.epy_m);
  take(pending_->eph_m, tpv.eph_m);
  take(pending_->eps_mps, tpv.eps_mps);
}

EpochMerger::Out EpochMerger::flush() {
  Out out;
  if (!pending_) return out;
  Tpv tpv = std::move(*pending_);
  pending_.reset();
  given_time_us_ = tpv.time_us;
  bool same_time = gst_ && gst_->time_us == tpv.time_us;
  std::optional<Position> position = to_fix(tpv, same_time ? gst_ : std::nullopt);
  if (!position) return out;
  had_fix_ = true;
  Epoch epoch;
  epoch.frozen = frozen(position->fix);
  epoch.fix = std::move(position->fix);
  epoch.basis = position->basis;
  epoch.receiver_us = tpv.time_us;
  epoch.arrived = first_;
  out.epoch = std::move(epoch);
  return out;
}

std::optional<int64_t> EpochMerger::pending_since_us() const {
  if (!pending_) return std::nullopt;
  return last_mono_us_;
}

std::optional<sdk::Stamp> EpochMerger::pending_from() const {
  if (!pending_) return std::nullopt;
  return first_;
}

void EpochMerger::forget() {
  pending_.reset();
  gst_.reset();
  given_time_us_.reset();
  zero_start_.reset();
  zeros_ = 0;
  had_fix_.reset();
}

bool EpochMerger::frozen(const v1::Fix& fix) {
  if (fix.speed_mps() != 0.0) {
    zero_start_.reset();
    zeros_ = 0;
    return false;
  }
  if (!zero_start_) zero_start_ = fix;
  ++zeros_;
  double both_sd_m = std::hypot(zero_start_->h_sd_m(), fix.h_sd_m());
  return zeros_ >= kFrozenAfter && distance_m(*zero_start_, fix) > kFrozenSigmas * both_sd_m;
}

double distance_m(const v1::Fix& a, const v1::Fix& b) {
  constexpr double kRadiusM = 6'371'008.8;
  constexpr double kRad = std::numbers::pi / 180;
  // Haversine: exact for small distances too.
  double dlat = (b.lat_deg() - a.lat_deg()) * kRad;
  double dlon = (b.lon_deg() - a.lon_deg()) * kRad;
  double s = std::pow(std::sin(dlat / 2), 2) + std::cos(a.lat_deg() * kRad) *
                                                   std::cos(b.lat_deg() * kRad) *
                                                   std::pow(std::sin(dlon / 2), 2);
  return 2 * kRadiusM * std::asin(std::min(1.0, std::sqrt(s)));
}

}  // namespace fairlead::gps
