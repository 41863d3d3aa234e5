#include "daemon/physics/roll_filter.h"

#include <algorithm>

#include "daemon/base/exact_math.h"

namespace fairlead::physics {
namespace {

constexpr double kSteadySd = 1.0;       // m/s.
constexpr double kUnderWaySd = 0.15;    // m/s, of v about where it heads ...
constexpr double kEdgeSd = 0.2;         // ... and while the car starts or stops.
constexpr double kWhitePosition = 0.5;  // m, where the receiver claims 2.5 m or more.
constexpr double kWhiteShare = 0.2;     // Of a smaller claim.
constexpr double kGateSquare = 16.0;    // (4 s.d.)^2.
constexpr int kStepAfter = 3;           // So many set aside in a row are a step.

}  // namespace

RollFilter::RollFilter(const RollNoise& noise, double h_sd) : noise_(noise) {
  covariance_[kP][kP] = 1e6;
  covariance_[kM][kM] = h_sd * h_sd;
  covariance_[kD][kD] = noise.sd_d * noise.sd_d;
}

RollFilter::RollFilter(const RollNoise& noise, const RollFilter& positions,
                       const RollFilter& velocities)
    : RollFilter(positions) {
  noise_ = noise;
  covariance_[kD][kD] = velocities.covariance_[kD][kD];
  east_[kD] = velocities.east_[kD];
  north_[kD] = velocities.north_[kD];
  velocities_off_ = velocities.velocities_off_;
  log_sum_ = -positions.log_likelihood() - velocities.log_likelihood();
  product_ = 1.0;
}

void RollFilter::advance(const RollFade& fade, double h_sd) {
  if (fade.dt <= 0) return;
  decay(kM, fade.m, h_sd);
  decay(kD, fade.d, noise_.sd_d);
  if (moving_) move(fade);
}

void RollFilter::decay(size_t state, double keep, double sd) {
  east_[state] *= keep;
  north_[state] *= keep;
  for (size_t j = 0; j < size_; ++j) at(state, j) *= keep;
  double& own = covariance_[state][state];
  own = own * keep + sd * sd * (1.0 - keep * keep);
}

// Over dt: p' = p + r v + q u, v' = a v + b u, each with the noise of v about where it heads.
void RollFilter::move(const RollFade& fade) {
  const size_t v = size_ - 1, u = size_ - 2;
  const bool edge = motion_ != RollMotion::kUnderWay, stops = motion_ == RollMotion::kStopping;
  const double tau = edge ? kEdgeTau : kUnderWayTau, a = edge ? fade.edge : fade.under_way,
               gone = 1.0 - a, dt = fade.dt;
  const double r = tau * gone, b = stops ? 0.0 : gone, q = stops ? 0.0 : dt - r;
  // Across a hole the car may have done anything.
  const double sd = fade.hole ? kSteadySd : edge ? kEdgeSd : kUnderWaySd, s2 = sd * sd;
  const auto means = [&](std::array<double, kMostStates>& mean) {
    mean[kP] += r * mean[v] + q * mean[u];
    mean[v] = a * mean[v] + b * mean[u];
  };
  means(east_);
  means(north_);
  const double pv = at(kP, v), pu = at(kP, u), vv = at(v, v), uv = at(u, v), uu = at(u, u);
  for (size_t j = 0; j <= u; ++j) {
    const double vj = covariance_[v][j], uj = at(u, j);
    if (j != kP) at(kP, j) += r * vj + q * uj;
    covariance_[v][j] = a * vj + b * uj;
  }
  covariance_[kP][kP] += r * r * vv + q * q * uu + 2.0 * (r * pv + q * pu + r * q * uv) +
                         s2 * tau * tau * (2.0 * dt / tau - 3.0 + 4.0 * a - a * a);
  covariance_[v][kP] =
      a * (pv + r * vv + q * uv) + b * (pu + r * uv + q * uu) + s2 * tau * gone * gone;
  covariance_[v][v] = a * a * vv + 2.0 * a * b * uv + b * b * uu + s2 * (1.0 - a * a);
}

void RollFilter::begin(bool counted) {
  counted_ = counted;
  if (counted) {  // Remember where it began.
    const size_t start = size_++;
    ++chords_;
    east_[start] = east_[kP];
    north_[start] = north_[kP];
    for (size_t j = 0; j < start; ++j) covariance_[start][j] = at(kP, j);
    covariance_[start][start] = covariance_[kP][kP];
  }
  const size_t u = size_++, v = size_++;
  for (const size_t state : {u, v}) {
    east_[state] = north_[state] = 0.0;
    for (size_t j = 0; j <= state; ++j) covariance_[state][j] = 0.0;
  }
  covariance_[u][u] = kSteadySd * kSteadySd;  // v itself is still known to be 0.
  moving_ = true;
  motion_ = RollMotion::kStarting;
}

void RollFilter::end() {
  const size_t v = size_ - 1;
  observe(v, v, 0.0, 0.0, 1e-6, false);  // It stands again, and what that says of p is used.
  size_ -= 2;
  moving_ = false;
  if (!counted_) return;
  const size_t chord = size_ - 1;  // p less where it began.
  east_[chord] = east_[kP] - east_[chord];
  north_[chord] = north_[kP] - north_[chord];
  const double between = covariance_[chord][kP];
  for (size_t j = 0; j < chord; ++j) covariance_[chord][j] = at(kP, j) - covariance_[chord][j];
  covariance_[chord][chord] = covariance_[kP][kP] - 2.0 * between + covariance_[chord][chord];
}

bool RollFilter::observe_position(double east, double north, double h_sd) {
  const double white = std::min(kWhitePosition, kWhiteShare * h_sd);
  bool used = observe(kP, kM, east, north, white * white, true);
  positions_off_ = used ? 0 : positions_off_ + 1;
  if (positions_off_ >= kStepAfter) {
    renew(kM, h_sd);
    positions_off_ = 0;
    used = observe(kP, kM, east, north, white * white, true);
  }
  return used;
}

bool RollFilter::observe_velocity(double east, double north) {
  const size_t v = moving_ ? size_ - 1 : kD;
  const double variance = noise_.sd_u * noise_.sd_u;
  bool used = observe(v, kD, east, north, variance, true);
  velocities_off_ = used ? 0 : velocities_off_ + 1;
  if (velocities_off_ >= kStepAfter) {
    renew(kD, noise_.sd_d);
    velocities_off_ = 0;
    used = observe(v, kD, east, north, variance, true);
  }
  return used;
}

void RollFilter::renew(size_t state, double sd) {
  east_[state] = north_[state] = 0.0;
  for (size_t j = 0; j < size_; ++j) at(state, j) = 0.0;
  covariance_[state][state] = sd * sd;
}

// One reading of `one` + `two` (the same: of it alone) on both axes.
bool RollFilter::observe(size_t one, size_t two, double east, double north, double variance,
                         bool gated) {
  std::array<double, kMostStates> gain;
  const bool both = one != two;
  for (size_t i = 0; i < size_; ++i) gain[i] = both ? at(i, one) + at(i, two) : at(i, one);
  const double s = gain[one] + (both ? gain[two] : 0.0) + variance;
  const double off_east = east - east_[one] - (both ? east_[two] : 0.0);
  const double off_north = north - north_[one] - (both ? north_[two] : 0.0);
  if (gated) {
    const double square = (off_east * off_east + off_north * off_north) / s;
    product_ *= s;
    log_sum_ += 0.5 * std::min(square, kGateSquare);
    if (product_ > 1e200 || product_ < 1e-200) {
      log_sum_ += exact_log(product_);
      product_ = 1.0;
    }
    if (square > kGateSquare) return false;
  }
  const double share = 1.0 / s, east_step = off_east * share, north_step = off_north * share;
  for (size_t i = 0; i < size_; ++i) {
    east_[i] += gain[i] * east_step;
    north_[i] += gain[i] * north_step;
    const double step = gain[i] * share;
    for (size_t j = 0; j <= i; ++j) covariance_[i][j] -= step * gain[j];
  }
  return true;
}

double RollFilter::log_likelihood() const { return -(log_sum_ + exact_log(product_)); }

}  // namespace fairlead::physics
