#include "daemon/physics/roll_rest.h"

#include <algorithm>

#include "daemon/base/exact_math.h"

namespace fairlead::physics {
namespace {

constexpr double kGateSquare = 16.0;  // (4 s.d.)^2.
constexpr int kStepAfter = 3;

}  // namespace

RestVelocities::RestVelocities(const RollNoise& noise)
    : own_(noise.sd_d * noise.sd_d), white_(noise.sd_u * noise.sd_u), variance_(own_) {}

void RestVelocities::advance(double keep) {
  east_ *= keep;
  north_ *= keep;
  variance_ = variance_ * keep * keep + own_ * (1.0 - keep * keep);
}

void RestVelocities::observe(double east, double north) {
  const double s = variance_ + white_, off_east = east - east_, off_north = north - north_;
  const double square = (off_east * off_east + off_north * off_north) / s;
  product_ *= s;
  log_sum_ += 0.5 * std::min(square, kGateSquare);
  if (product_ > 1e200 || product_ < 1e-200) {
    log_sum_ += exact_log(product_);
    product_ = 1.0;
  }
  if (square > kGateSquare && ++off_ < kStepAfter) return;
  if (square > kGateSquare) {
    variance_ = own_;
    east_ = north_ = 0.0;
  }
  off_ = 0;
  const double gain = variance_ / (variance_ + white_);
  east_ += gain * (east - east_);
  north_ += gain * (north - north_);
  variance_ -= gain * variance_;
}

double RestVelocities::log_likelihood() const { return -(log_sum_ + exact_log(product_)); }

}  // namespace fairlead::physics
