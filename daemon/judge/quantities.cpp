#include "daemon/judge/quantities.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "daemon/base/exact_math.h"
#include "daemon/judge/line_facts.h"
#include "daemon/judge/tag_speed.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

using v1::Observation;

constexpr double kGravity = 9.80665;  // m/s2, standard gravity (SI Brochure 9th ed.).
constexpr double kRollingShare =
    0.15;  // Resistance of a freely rolling car on a deck, share of weight.
constexpr int64_t kRootTwoMicro = 1'414'214;

int64_t stored(double value, double resolution) {
  return static_cast<int64_t>(std::floor(value / resolution + 0.5));
}

// The reading a line gives of a quantity, in SI; nullopt when it speaks of something else.
std::optional<double> reading_of(const Observation& line, std::string_view name) {
  if (line.has_sample()) {
    return line.sample().signal() == name ? std::optional(line.sample().value()) : std::nullopt;
  }
  switch (line.kind_case()) {
    case Observation::kFix:
      if (name == "vehicle.speed" && line.source() == "gps.tag") return line.fix().speed_mps();
      if (name == "truck.speed" && line.source() == "gps.truck") return line.fix().speed_mps();
      return std::nullopt;
    case Observation::kHeat:
      return name == "battery.temp" ? std::optional(line.heat().celsius()) : std::nullopt;
    case Observation::kDeck:
      if (name != "deck.tilt" || !line.deck().has_tilt_deg()) return std::nullopt;
      return line.deck().tilt_deg();
    case Observation::kRigging:
      if (name != "rigging.legs_angle" || !line.rigging().on() ||
          !line.rigging().has_legs_angle_deg())
        return std::nullopt;
      return line.rigging().legs_angle_deg();
    case Observation::kIsolation:
      return name == "isolation.distance" ? std::optional(line.isolation().metres()) : std::nullopt;
    case Observation::kSourcePower:
      return name == "source.nominal" ? std::optional(line.source_power().nominal_volts())
                                      : std::nullopt;
    default:
      return std::nullopt;
  }
}

// A fix without position or with a bad word is no reading.
bool usable(const JobLine& line) {
  return line.good && (!line.observation->has_fix() || line.observation->fix().mode() >= 2);
}

// `by_word`: what people said and what then holds, with no longest hole, until they say otherwise.
bool gap_hides(const SourceGap& gap, std::string_view name, const std::set<std::string>& sources,
               bool by_word) {
  if (by_word && is_person(gap.source) && gap.channel.empty()) return true;
  if (!gap.stated)
    return false;  // A single missing number: the value holds up to the longest hole.
  if (gap.channel == name) return true;
  return sources.contains(gap.source) && (gap.channel.empty() || gap.channel == "fix");
}

// Nothing is known inside a stated gap.
void cut_gaps(Series& series, const std::vector<SourceGap>& gaps, std::string_view name,
              const std::set<std::string>& sources, bool by_word = false) {
  for (const SourceGap& gap : gaps) {
    if (!gap_hides(gap, name, sources, by_word)) continue;
    std::vector<Piece> kept;
    for (Piece piece : series.pieces) {
      if (piece.to_us <= gap.from_us || piece.from_us >= gap.to_us) {
        kept.push_back(piece);
        continue;
      }
      if (piece.from_us <= gap.from_us && piece.from_us < gap.from_us + 1) {
        piece.to_us = std::min(piece.to_us, gap.from_us + 1);
        kept.push_back(piece);
      }
    }
    const bool unsaid = by_word && (kept.empty() || kept.back().from_us < gap.to_us);
    series.pieces = std::move(kept);
    if (gap.to_us == kForever || unsaid) series.after_last = gap.reason;
  }
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
    mass = stored(opened.mass_kg(), 0.001);
    sd = opened.has_mass_sd_kg() ? stored(opened.mass_sd_kg(), 0.001) : 0;
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
  for (const JobLine& line : lines_.lines()) {
    if (!line.good || !line.observation->has_found()) continue;
    const auto surface = line.observation->found().surface();
    slippery_.push_back(
        {line.stamp.time_us, surface == v1::Found::ICE || surface == v1::Found::SNOW});
  }
}

const Series& Quantities::series(const std::string& name, int64_t longest_hole_us, int64_t bin_us) {
  const std::string key = fmt::format("{}|{}|{}", name, longest_hole_us, bin_us);
  const auto found = cache_.find(key);
  if (found != cache_.end()) return found->second;
  return cache_.emplace(key, build(name, longest_hole_us, bin_us)).first->second;
}

const std::set<std::string>& Quantities::sources(const std::string& name) {
  const auto [at, fresh] = sources_.try_emplace(name);
  if (!fresh) return at->second;
  const bool from_rope = name == "vehicle.speed" || name == "vehicle.rolled";
  for (const JobLine& line : lines_.lines()) {
    if (reading_of(*line.observation, name == "vehicle.rolled" ? "vehicle.speed" : name) ||
        (from_rope && reading_of(*line.observation, "line.out")) ||
        (name == "line.leg_pull" && reading_of(*line.observation, "line.pull")) ||
        (name == "truck.driven" && reading_of(*line.observation, "truck.speed"))) {
      at->second.insert(line.observation->source());
    }
  }
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

Quantities::Noise Quantities::noise_of(const QuantityInfo& info) const {
  Noise noise{info.sd_share_ppm, info.sd_milli, info.tau_us, false};
  for (const SensorItem* sensor : book_.sensors(std::string(info.name), parties_.truck_id)) {
    if (sensor->sd_milli || sensor->sd_share_ppm) {
      noise.share_ppm = sensor->sd_share_ppm.value_or(0);
      noise.milli = sensor->sd_milli.value_or(0);
      noise.from_register = true;
    }
    if (sensor->tau_us) noise.tau_us = *sensor->tau_us;
  }
  return noise;
}

Series Quantities::build(const std::string& name, int64_t hole_us, int64_t bin_us) {
  const QuantityInfo* info = find_quantity(name);
  if (info == nullptr) return {};
  // What is held until the next line has no holes to limit.
  if (info->longest_hole_us == 0) hole_us = kForever;
  if (hole_us == 0) hole_us = info->longest_hole_us;
  if (name == "vehicle.speed") {
    Series rope = rope_speed(*info, hole_us, bin_us);
    if (rope.named) return rope;
  }
  if (name == "line.leg_pull") return leg_pull(*info, hole_us);
  if (name == "line.rating" || name == "line.layer" || name == "point.rating" ||
      name == "line.free_roll" || name == "vehicle.mass" || name == "tiedowns.strength" ||
      name == "tiedowns.count") {
    return exact(name);
  }
  return sampled(*info, hole_us);
}

Series Quantities::sampled(const QuantityInfo& info, int64_t hole_us) {
  Series series;
  const Noise noise = noise_of(info);
  series.tau_us = noise.tau_us;
  const std::map<int, double> along =
      info.name == "vehicle.speed" ? tag_speeds_along(lines_) : std::map<int, double>{};
  for (const JobLine& line : lines_.lines()) {
    auto reading = reading_of(*line.observation, info.name);
    if (!reading) continue;
    if (const auto signed_speed = along.find(line.stamp.line); signed_speed != along.end())
      reading = signed_speed->second;
    series.named = true;
    const int64_t now_us = line.stamp.time_us;
    if (!series.pieces.empty())
      series.pieces.back().to_us = std::min(series.pieces.back().to_us, now_us);
    if (!usable(line)) continue;
    Piece piece{.from_us = now_us,
                .to_us = now_us + hole_us,
                .value = stored(*reading, info.resolution),
                .line = line.stamp.line};
    piece.lo = piece.hi = piece.value;
    if (along.contains(line.stamp.line)) {
      // The way may go another way than the readings around say: then the reading's component along
      // it is larger, but never larger than the reading.
      const int64_t most = stored(line.observation->fix().speed_mps(), info.resolution);
      const int64_t far = piece.value < 0 ? -most : most;
      piece.lo = std::min(piece.value, far);
      piece.hi = std::max(piece.value, far);
    }
    piece.sd_milli =
        noise.milli + ceil_div(static_cast<Wide>(std::abs(piece.value)) * noise.share_ppm, 1000);
    if (!noise.from_register && line.observation->has_fix() &&
        line.observation->fix().has_speed_sd_mps()) {
      piece.sd_milli = stored(line.observation->fix().speed_sd_mps(), 1e-6);
    }
    // Two readings at one instant: the later line stands.
    if (!series.pieces.empty() && series.pieces.back().to_us <= series.pieces.back().from_us)
      series.pieces.pop_back();
    series.pieces.push_back(piece);
    series.origin = line.observation->source();
  }
  const auto& by = sources(std::string(info.name));
  const bool by_word = info.longest_hole_us == 0 && std::ranges::all_of(by, is_person);
  cut_gaps(series, lines_.gaps(), info.name, by, by_word);
  return series;
}

// Speed from the rope counter: change of line.out between neighbouring samples, signed. The s.d.
// of a bin's mean is that of two counter readings over the bin's length.
Series Quantities::rope_speed(const QuantityInfo& info, int64_t hole_us, int64_t bin_us) {
  const QuantityInfo* out_info = find_quantity("line.out");
  const Series out = sampled(*out_info, hole_us);
  Series series;
  if (!out.named) return series;
  const Noise noise = noise_of(info);
  series.tau_us = noise.tau_us;
  series.named = true;
  series.origin = "rope counter";
  series.after_last = out.after_last;
  series.sd_of_mean = !noise.from_register;
  for (size_t i = 0; i + 1 < out.pieces.size(); ++i) {
    const Piece& here = out.pieces[i];
    const Piece& next = out.pieces[i + 1];
    if (here.to_us < next.from_us) continue;  // A hole between them.
    const int64_t span_us = next.from_us - here.from_us;
    Piece piece{.from_us = here.from_us, .to_us = next.from_us, .line = next.line};
    piece.value = floor_div(static_cast<Wide>(next.value - here.value) * 2'000'000 + span_us,
                            2 * static_cast<Wide>(span_us));
    piece.lo = piece.hi = piece.value;
    piece.sd_milli =
        noise.from_register
            ? noise.milli +
                  ceil_div(static_cast<Wide>(std::abs(piece.value)) * noise.share_ppm, 1000)
            : ceil_div(static_cast<Wide>(here.sd_milli) * kRootTwoMicro, std::max(bin_us, span_us));
    series.pieces.push_back(piece);
  }
  cut_gaps(series, lines_.gaps(), "line.out", sources("line.out"));
  return series;
}

// One leg of a bridle carries pull / (2 cos(angle / 2)).
Series Quantities::leg_pull(const QuantityInfo& info, int64_t hole_us) {
  Series series = sampled(*find_quantity("line.pull"), hole_us);
  const Series angles = sampled(*find_quantity("rigging.legs_angle"), kForever);
  series.tau_us = info.tau_us;
  if (!series.pieces.empty() && !angles.pieces.empty() &&
      series.pieces.back().from_us >= angles.pieces.back().to_us)
    series.after_last = angles.after_last;
  std::vector<Piece> kept;
  for (Piece piece : series.pieces) {
    const Piece* angle = angles.at(piece.from_us);
    if (angle == nullptr || angle->value >= 179'000) continue;
    const double half_deg = static_cast<double>(angle->value) / 2000.0;
    const double cosine = exact_cos_deg(half_deg);
    const double leg = static_cast<double>(piece.value) / (2.0 * cosine);
    // d(leg)/d(angle) = leg tan(angle/2) / 2 per radian; angle s.d. in milli-millidegrees.
    const double angle_sd_rad =
        static_cast<double>(angle->sd_milli) * 1e-6 * 3.14159265358979 / 180.0;
    const double from_angle = leg * exact_sin_deg(half_deg) / cosine / 2.0 * angle_sd_rad;
    const auto from_pull =
        static_cast<int64_t>(static_cast<double>(piece.sd_milli) / (2.0 * cosine)) + 1;
    piece.value = piece.lo = piece.hi = static_cast<int64_t>(std::floor(leg + 0.5));
    piece.sd_milli =
        root_sum_square(from_pull, static_cast<int64_t>(std::abs(from_angle) * 1000.0) + 1);
    kept.push_back(piece);
  }
  series.pieces = std::move(kept);
  return series;
}

// Quantities that files and words fix: one piece from each line to the next.
Series Quantities::exact(const std::string& name) {
  Series series;
  series.named = true;
  std::vector<int64_t> edges;
  for (const JobLine& line : lines_.lines()) {
    if (edges.empty() || edges.back() != line.stamp.time_us) edges.push_back(line.stamp.time_us);
  }
  for (size_t i = 0; i < edges.size(); ++i) {
    const Interval value = limit_at(name, edges[i]);
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
  if (name == "line.layer") return layer(time_us);
  if (name == "line.free_roll") return free_roll(time_us);
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
Interval Quantities::free_roll(int64_t time_us) {
  const Piece* tilt = series("deck.tilt", 0, 0).at(time_us);
  if (tilt == nullptr || !parties_.mass_g.best) return {};
  const Interval tilt_mdeg = interval_of(*tilt);
  const auto pull_n = [](int64_t mass_g, int64_t mdeg) {
    const double degrees = static_cast<double>(std::clamp<int64_t>(mdeg, -80'000, 80'000)) / 1000.0;
    return static_cast<double>(mass_g) / 1000.0 * kGravity *
           (exact_sin_deg(degrees) + kRollingShare * exact_cos_deg(degrees));
  };
  const double best = pull_n(*parties_.mass_g.best, tilt->value);
  double lo = best, hi = best;
  for (const int64_t mass : {*parties_.mass_g.lo, *parties_.mass_g.hi}) {
    for (const int64_t angle : {*tilt_mdeg.lo, *tilt_mdeg.hi}) {
      lo = std::min(lo, pull_n(mass, angle));
      hi = std::max(hi, pull_n(mass, angle));
    }
  }
  Interval pull{static_cast<int64_t>(std::floor(lo)), static_cast<int64_t>(std::floor(best + 0.5)),
                static_cast<int64_t>(std::ceil(hi))};
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
Interval Quantities::layer(int64_t time_us) {
  if (parties_.truck == nullptr || parties_.truck->layers.empty()) return {};
  const auto& layers = parties_.truck->layers;
  const auto pull_at = [&](int64_t on_drum_mm) {
    for (const WinchLayer& one : layers) {
      if (on_drum_mm <= one.length_mm) return one.pull_n;
    }
    return layers.back().pull_n;
  };
  const Piece* out = series("line.out", 0, 0).at(time_us);
  if (out == nullptr) return {layers.back().pull_n, layers.back().pull_n, layers.front().pull_n};
  int64_t rope_mm = layers.back().length_mm;
  if (const auto length =
          parse_quantity(parties_.truck->text.winch(0).rope_length(), Dimension::kLength))
    rope_mm = length->nearest();
  const Interval out_mm = interval_of(*out);
  return {pull_at(rope_mm - *out_mm.lo), pull_at(rope_mm - out->value),
          pull_at(rope_mm - *out_mm.hi)};
}

}  // namespace fairlead::judge
