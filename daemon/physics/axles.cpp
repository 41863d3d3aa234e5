#include "daemon/physics/axles.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace fairlead::physics {
namespace {

constexpr Interval kMass{0, 1e6};      // kg: far above any road vehicle.
constexpr Interval kPlace{-100, 100};  // m.
constexpr Interval kLength{0.1, 100};
constexpr Interval kShare{0, 1};

constexpr double kPoundKg = 0.45359237;
// Upper bounds of classes 1 to 7, pounds, from memory.
constexpr std::array kClassLb{6'000.0, 10'000.0, 14'000.0, 16'000.0, 19'500.0, 26'000.0, 33'000.0};
constexpr double kLicenceLb = 26'001, kTowedLb = 10'000;

// A rating in whole kilograms was whole pounds once: the least pounds that round to it (14,969 kg
// is 33,000 lb). Any other figure was written in pounds.
double printed_lb(double kg) {
  if (kg == std::round(kg)) return std::ceil((kg - 0.5) / kPoundKg);
  return std::round(kg / kPoundKg);
}

Status check_truck(const AxlePair& unladen, double wheelbase_m) {
  if (auto fine = check_input("front axle, unladen kg", exactly(unladen.front_kg), kMass); !fine)
    return fine;
  if (auto fine = check_input("rear axle, unladen kg", exactly(unladen.rear_kg), kMass); !fine)
    return fine;
  return check_input("wheelbase, m", exactly(wheelbase_m), kLength);
}

double front_of(const AxlePair& unladen, double wheelbase_m, double load_kg, double ahead_m) {
  return unladen.front_kg + load_kg * ahead_m / wheelbase_m;
}
double rear_of(const AxlePair& unladen, double wheelbase_m, double load_kg, double ahead_m) {
  return unladen.rear_kg + load_kg * (1 - ahead_m / wheelbase_m);
}

}  // namespace

Result<AxlePair> axle_loads(const AxlePair& unladen, double wheelbase_m, double load_kg,
                            double ahead_m) {
  if (auto fine = check_truck(unladen, wheelbase_m); !fine) return std::unexpected(fine.error());
  if (auto fine = check_input("load, kg", exactly(load_kg), kMass); !fine)
    return std::unexpected(fine.error());
  if (auto fine = check_input("load ahead of the rear axle, m", exactly(ahead_m), kPlace); !fine)
    return std::unexpected(fine.error());
  return AxlePair{front_of(unladen, wheelbase_m, load_kg, ahead_m),
                  rear_of(unladen, wheelbase_m, load_kg, ahead_m)};
}

Result<AxleMargins> axle_margins(const AxlePair& unladen, double wheelbase_m,
                                 const AxleRatings& ratings, const Interval& load_kg,
                                 const Interval& ahead_m) {
  if (auto fine = check_truck(unladen, wheelbase_m); !fine) return std::unexpected(fine.error());
  if (auto fine = check_input("load, kg", load_kg, {0, kNoBound}); !fine)
    return std::unexpected(fine.error());
  if (auto fine = check_input("load ahead of the rear axle, m", ahead_m, kPlace); !fine)
    return std::unexpected(fine.error());
  if (auto fine = check_input("front axle, unladen kg", exactly(unladen.front_kg), {1, kMass.hi});
      !fine)
    return std::unexpected(fine.error());
  const Interval moment = load_kg * ahead_m;  // kg m, unbounded with the load.
  const Interval front = exactly(unladen.front_kg) + moment / exactly(wheelbase_m);
  Interval rear = over_corners(
      [&](double load, double ahead) { return rear_of(unladen, wheelbase_m, load, ahead); },
      least(load_kg, exactly(kMass.hi)), ahead_m);
  if (load_kg.hi == kNoBound && ahead_m.lo < wheelbase_m) rear.hi = kNoBound;
  AxleMargins margins;
  if (ratings.front_kg) margins.front_kg = exactly(*ratings.front_kg) - front;
  if (ratings.rear_kg) margins.rear_kg = exactly(*ratings.rear_kg) - rear;
  if (ratings.gvwr_kg) margins.gvwr_kg = exactly(*ratings.gvwr_kg - unladen.total_kg()) - load_kg;
  if (ratings.payload_kg) margins.payload_kg = exactly(*ratings.payload_kg) - load_kg;
  margins.steer_share = front / exactly(unladen.front_kg);
  return margins;
}

Result<std::optional<Interval>> place_for(const AxlePair& unladen, double wheelbase_m,
                                          const AxleRatings& ratings, double load_kg,
                                          double steer_share) {
  if (auto fine = check_truck(unladen, wheelbase_m); !fine) return std::unexpected(fine.error());
  if (auto fine = check_input("load, kg", exactly(load_kg), {1, kMass.hi}); !fine)
    return std::unexpected(fine.error());
  if (auto fine = check_input("steer share", exactly(steer_share), kShare); !fine)
    return std::unexpected(fine.error());
  Interval place = kPlace;
  const double per_kg = wheelbase_m / load_kg;
  if (ratings.front_kg)
    place.hi = std::min(place.hi, (*ratings.front_kg - unladen.front_kg) * per_kg);
  if (ratings.rear_kg)
    place.lo = std::max(place.lo, wheelbase_m - (*ratings.rear_kg - unladen.rear_kg) * per_kg);
  place.lo = std::max(place.lo, (steer_share - 1) * unladen.front_kg * per_kg);
  if (!sound(place)) return std::optional<Interval>{};
  return std::optional<Interval>{place};
}

Result<double> most_lifted_kg(double front_scaled_kg, double wheelbase_m, double overhang_m,
                              double steer_share) {
  if (auto fine = check_truck({front_scaled_kg, 0}, wheelbase_m); !fine)
    return std::unexpected(fine.error());
  if (auto fine = check_input("overhang, m", exactly(overhang_m), kLength); !fine)
    return std::unexpected(fine.error());
  if (auto fine = check_input("steer share", exactly(steer_share), kShare); !fine)
    return std::unexpected(fine.error());
  return (1 - steer_share) * front_scaled_kg * wheelbase_m / overhang_m;
}

Result<int> gvwr_class(double gvwr_kg) {
  if (auto fine = check_input("gvwr, kg", exactly(gvwr_kg), {1, kMass.hi}); !fine)
    return std::unexpected(fine.error());
  const double pounds = printed_lb(gvwr_kg);
  const auto* bound = std::find_if(kClassLb.begin(), kClassLb.end(),
                                   [&](double most_lb) { return pounds <= most_lb; });
  return static_cast<int>(bound - kClassLb.begin()) + 1;
}

Result<bool> needs_commercial_licence(double gvwr_kg, double towed_gvwr_kg) {
  if (auto fine = check_input("gvwr, kg", exactly(gvwr_kg), {1, kMass.hi}); !fine)
    return std::unexpected(fine.error());
  if (auto fine = check_input("towed gvwr, kg", exactly(towed_gvwr_kg), kMass); !fine)
    return std::unexpected(fine.error());
  const double own = printed_lb(gvwr_kg), towed = printed_lb(towed_gvwr_kg);
  return own >= kLicenceLb || (towed > kTowedLb && own + towed >= kLicenceLb);
}

}  // namespace fairlead::physics
