#include "daemon/judge/quantities.h"

#include <algorithm>
#include <cmath>

#include "daemon/base/exact_math.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

constexpr double kGravity = 9.80665;  // m/s2, standard gravity (SI Brochure 9th ed.).
constexpr double kRollingShare =
    0.15;  // Resistance of a freely rolling car on a deck, share of weight.

int64_t grams(double kg) { return static_cast<int64_t>(std::floor(kg / 0.001 + 0.5)); }

double rolling_pull_n(int64_t mass_g, int64_t tilt_mdeg) {
  const double degrees =
      static_cast<double>(std::clamp<int64_t>(tilt_mdeg, -80'000, 80'000)) / 1000.0;
  return static_cast<double>(mass_g) / 1000.0 * kGravity *
         (exact_sin_deg(degrees) + kRollingShare * exact_cos_deg(degrees));
}

Interval free_roll_of(const Interval& mass_g, const Interval& tilt_mdeg) {
  const double best = rolling_pull_n(*mass_g.best, *tilt_mdeg.best);
  double lo = best, hi = best;
  for (const int64_t mass : {*mass_g.lo, *mass_g.hi}) {
    for (const int64_t angle : {*tilt_mdeg.lo, *tilt_mdeg.hi}) {
      lo = std::min(lo, rolling_pull_n(mass, angle));
      hi = std::max(hi, rolling_pull_n(mass, angle));
    }
  }
  return {static_cast<int64_t>(std::floor(lo)), static_cast<int64_t>(std::floor(best + 0.5)),
          static_cast<int64_t>(std::ceil(hi))};
}

}  // namespace

JobParties parties_of(const JobLines& lines, const RegisterBook& book) {
  JobParties parties;
  if (lines.opened() == kNoLine) return parties;
  const v1::Opened& opened = lines.line(lines.opened()).observation->opened();
  parties.vehicle = book.vehicle(opened.vehicle());
  parties.truck = book.truck(opened.truck());
  parties.truck_id = opened.truck();
  std::optional<int64_t> mass, sd;
  if (opened.has_mass_kg()) {
    mass = grams(opened.mass_kg());
    sd = opened.has_mass_sd_kg() ? grams(opened.mass_sd_kg()) : 0;
    parties.mass_origin = "mass as opened";
  } else if (parties.vehicle != nullptr && parties.vehicle->mass_g) {
    mass = parties.vehicle->mass_g;
    sd = parties.vehicle->mass_sd_g.value_or(0);
    parties.mass_origin = "mass of the vehicle file";
  }
  if (!mass) return parties;
  const int64_t u = ceil_div(static_cast<Wide>(*sd) * kUPerMille, 1000);
  parties.mass_g = {*mass - u, *mass, *mass + u};
  return parties;
}

Quantities::Quantities(const JobLines& lines, const RegisterBook& book, const JobParties& parties,
                       const RiggingState& rigging)
    : lines_(lines), book_(book), parties_(parties), rigging_(rigging) {
  read_surface();
  if (parties.truck == nullptr || parties.truck->layers.empty()) return;
  const auto length =
      parse_quantity(parties.truck->text.winch(0).rope_length(), Dimension::kLength);
  rope_mm_ = length ? length->nearest() : parties.truck->layers.back().length_mm;
}

void Quantities::follow(int64_t changed_from_us) {
  slippery_.clear();
  read_surface();
  sources_.clear();
  for (auto& [key, kept] : cache_)
    kept.changed_from_us = std::min(kept.changed_from_us, changed_from_us);
}

void Quantities::read_surface() {
  for (const int index : lines_.spoken()) {
    const JobLine& line = lines_.line(index);
    if (!line.good || !line.observation->has_found()) continue;
    const auto surface = line.observation->found().surface();
    slippery_.push_back(
        {line.stamp.time_us, surface == v1::Found::ICE || surface == v1::Found::SNOW});
  }
}

const std::set<std::string>& Quantities::sources(const std::string& name) {
  const auto [at, fresh] = sources_.try_emplace(name);
  if (!fresh) return at->second;
  const auto add = [&](std::string_view quantity) {
    at->second.merge(lines_.reading_sources(quantity));
  };
  add(name == "vehicle.rolled" ? "vehicle.speed" : name);
  if (name == "vehicle.speed" || name == "vehicle.rolled") add("line.out");
  if (name == "line.leg_pull") add("line.pull");
  if (name == "truck.driven") add("truck.speed");
  return at->second;
}

bool Quantities::calibrated(const std::string& channel, int64_t time_us) const {
  constexpr int64_t kDayUs = 86'400'000'000;
  const auto sensors = book_.sensors(channel, parties_.truck_id);
  return sensors.empty() ||
         std::any_of(sensors.begin(), sensors.end(), [&](const SensorItem* sensor) {
           return (!sensor->valid_until_us || time_us < *sensor->valid_until_us + kDayUs) &&
                  (!sensor->valid_from_us || time_us >= *sensor->valid_from_us);
         });
}

// Quantities that files and words fix: one piece from each line to the next.
Series Quantities::exact(const std::string& name) {
  Series series;
  series.named = true;
  std::vector<int64_t> edges;
  for (const JobLine& line : lines_.lines()) {
    if (edges.empty() || edges.back() != line.stamp.time_us) edges.push_back(line.stamp.time_us);
  }
  const bool tilts = name == "line.free_roll", winds = name == "line.layer";
  const Series* under = tilts   ? &this->series("deck.tilt", 0, 0)
                        : winds ? &this->series("line.out", 0, 0)
                                : nullptr;
  for (size_t i = 0; i < edges.size(); ++i) {
    const Interval value = tilts   ? free_roll(*under, edges[i])
                           : winds ? layer(*under, edges[i])
                                   : limit_at(name, edges[i]);
    if (!value.best || !value.lo) continue;
    const int64_t to_us = i + 1 < edges.size() ? edges[i + 1] : kForever;
    series.pieces.push_back(
        {edges[i], to_us, *value.best, *value.lo, value.hi.value_or(kForever), 0, kNoLine});
  }
  return series;
}

Interval Quantities::limit_at(const std::string& name, int64_t time_us) {
  if (name == "line.rating") return rigging_.line_rating(time_us, parties_.truck);
  if (name == "point.rating") return rigging_.point_rating(time_us, parties_.vehicle);
  if (name == "line.layer") return layer(series("line.out", 0, 0), time_us);
  if (name == "line.free_roll") return free_roll(series("deck.tilt", 0, 0), time_us);
  if (name == "vehicle.mass") return parties_.mass_g;
  if (name == "tiedowns.strength" || name == "tiedowns.count") {
    for (const Strength& step : rigging_.tiedowns()) {
      if (time_us < step.from_us || time_us >= step.to_us) continue;
      if (name == "tiedowns.strength") return {step.lo_g, step.best_g, step.hi_g};
      return {step.count_lo, step.count_best, step.count_hi};
    }
    return {};
  }
  const Piece* piece = series(name, 0, 0).at(time_us);
  return piece == nullptr ? Interval{} : interval_of(*piece);
}

// mass x g x (sin tilt + 0.15 cos tilt): what a freely rolling car asks for on a tilted deck.
Interval Quantities::free_roll(const Series& tilt, int64_t time_us) {
  const Piece* piece = tilt.at(time_us);
  if (piece == nullptr || !parties_.mass_g.best) return {};
  // A deck mostly stands as it stood at the line before.
  const Interval tilt_mdeg = interval_of(*piece);
  const std::array tilted{*tilt_mdeg.lo, *tilt_mdeg.best, *tilt_mdeg.hi};
  if (tilted != tilted_mdeg_ || !rolls_n_.best) {
    rolls_n_ = free_roll_of(parties_.mass_g, tilt_mdeg);
    tilted_mdeg_ = tilted;
  }
  Interval pull = rolls_n_;
  // There locked wheels slide for no more than free ones ask: no pull shows that they turn.
  if (slippery(time_us)) pull.lo.reset();
  return pull;
}

bool Quantities::slippery(int64_t time_us) const {
  bool slips = false;
  for (const auto& [from_us, found] : slippery_) {
    if (from_us <= time_us) slips = found;
  }
  return slips;
}

// Rated pull of the drum layer in use: the outermost layer still on the drum carries the line.
Interval Quantities::layer(const Series& rope, int64_t time_us) const {
  if (parties_.truck == nullptr || parties_.truck->layers.empty()) return {};
  const auto& layers = parties_.truck->layers;
  const auto layer_at = [&](int64_t on_drum_mm) -> const WinchLayer& {
    for (const WinchLayer& one : layers) {
      if (on_drum_mm <= one.length_mm) return one;
    }
    return layers.back();
  };
  const Piece* out = rope.at(time_us);
  if (out == nullptr) return {layers.back().pull_n, layers.back().pull_n, layers.front().pull_up_n};
  const Interval out_mm = interval_of(*out);
  return {layer_at(rope_mm_ - *out_mm.lo).pull_n, layer_at(rope_mm_ - out->value).pull_n,
          layer_at(rope_mm_ - *out_mm.hi).pull_up_n};
}

}  // namespace fairlead::judge
