// From a job's readings to series, and on from there as more readings come.
#include <algorithm>
#include <cmath>
#include <utility>

#include "daemon/base/exact_math.h"
#include "daemon/judge/line_facts.h"
#include "daemon/judge/quantities.h"
#include "daemon/judge/tag_speed.h"
#include "daemon/judge/whole_math.h"

namespace fairlead::judge {
namespace {

constexpr int64_t kRootTwoMicro = 1'414'214;

int64_t stored(double value, double resolution) {
  return static_cast<int64_t>(std::floor(value / resolution + 0.5));
}

// A fix without position or with a bad word is no reading.
bool usable(const JobLine& line) {
  return line.good &&
         (line.read->kind != v1::Observation::kFix || line.observation->fix().mode() >= 2);
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
      if (piece.from_us <= gap.from_us) {
        piece.to_us = std::min(piece.to_us, gap.from_us + 1);
        kept.push_back(piece);
      }
    }
    const bool unsaid = by_word && (kept.empty() || kept.back().from_us < gap.to_us);
    series.pieces = std::move(kept);
    if (gap.to_us == kForever || unsaid) series.after_last = gap.reason;
  }
}

// Takes off what may change when something changes from `from_us` on: all pieces from there, and
// the last one before, which the next reading ends. Where to begin to make pieces again.
int64_t cut_back(Series& series, int64_t from_us) {
  while (!series.pieces.empty() && series.pieces.back().from_us >= from_us)
    series.pieces.pop_back();
  if (series.pieces.empty()) return kBeginning;
  const int64_t again_us = series.pieces.back().from_us;
  series.pieces.pop_back();
  return again_us;
}

// The last piece before `from_us`; 0 where there is none.
size_t last_before(const Series& series, int64_t from_us) {
  const auto at = std::ranges::lower_bound(series.pieces, from_us, {}, &Piece::from_us);
  return at == series.pieces.begin() ? 0 : static_cast<size_t>(at - series.pieces.begin()) - 1;
}

bool is_file_quantity(std::string_view name) {
  return name == "line.rating" || name == "line.layer" || name == "point.rating" ||
         name == "line.free_roll" || name == "vehicle.mass" || name == "tiedowns.strength" ||
         name == "tiedowns.count";
}

}  // namespace

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

const Series& Quantities::series(const std::string& name, int64_t longest_hole_us, int64_t bin_us) {
  return kept(name, longest_hole_us, bin_us).series;
}

int64_t Quantities::reach_us(const std::string& name, int64_t longest_hole_us, int64_t bin_us) {
  return is_file_quantity(name) ? 0 : kept(name, longest_hole_us, bin_us).reach_us;
}

const Quantities::Kept& Quantities::kept(const std::string& name, int64_t hole_us, int64_t bin_us) {
  static const Kept kNothing;
  const QuantityInfo* info = find_quantity(name);
  if (info == nullptr) return kNothing;
  // What is held until the next line has no holes to limit.
  if (info->longest_hole_us == 0) hole_us = kForever;
  if (hole_us == 0) hole_us = info->longest_hole_us;
  if (name != "vehicle.speed") bin_us = 0;  // Nothing else asks for it.
  Kept& kept = cache_[{info->name, hole_us, bin_us}];
  if (kept.changed_from_us != kForever) make(*info, hole_us, bin_us, kept);
  return kept;
}

void Quantities::make(const QuantityInfo& info, int64_t hole_us, int64_t bin_us, Kept& kept) {
  const int64_t from_us = std::exchange(kept.changed_from_us, kForever);
  if (info.name == "vehicle.speed") {
    const Series& out = series("line.out", hole_us, 0);
    kept.reach_us = hole_us;  // A reading makes a piece from the one before it on.
    if (out.named) return rope_speed(info, out, bin_us, from_us, kept);
  }
  if (info.name == "line.leg_pull")
    return leg_pull(info, series("line.pull", hole_us, 0), series("rigging.legs_angle", 0, 0),
                    from_us, kept);
  if (is_file_quantity(info.name)) {
    kept.series = exact(std::string(info.name));
    return;
  }
  sampled(info, hole_us, from_us, kept);
}

// Whether what was made of the readings stands, all but its end: no gap reaches into what is to be
// made again. (Who gives the readings does not change while the lines grow.)
bool Quantities::stands(std::string_view name, bool by_word, int64_t again_us) {
  const auto& by = sources(std::string(name));
  return again_us != kBeginning && !by_word &&
         std::ranges::none_of(lines_.gaps(), [&](const SourceGap& gap) {
           return gap_hides(gap, name, by, by_word) && gap.to_us > again_us;
         });
}

void Quantities::sampled(const QuantityInfo& info, int64_t hole_us, int64_t from_us, Kept& kept) {
  const auto& by = sources(std::string(info.name));
  const bool by_word = info.longest_hole_us == 0 && std::ranges::all_of(by, is_person);
  kept.reach_us = info.name == "vehicle.speed" ? kTagSpeedReachUs : 0;
  int64_t again_us = kBeginning;
  if (from_us != kBeginning) again_us = cut_back(kept.series, from_us - kept.reach_us);
  const bool on = stands(info.name, by_word, again_us);
  if (!on) {
    again_us = kBeginning;
    kept.series = {};
  }
  read_on(info, hole_us, again_us, kept.series);
  if (!on) cut_gaps(kept.series, lines_.gaps(), info.name, by, by_word);
}

// Pieces from all readings at `again_us` and later.
void Quantities::read_on(const QuantityInfo& info, int64_t hole_us, int64_t again_us,
                         Series& series) const {
  const Noise noise = noise_of(info);
  series.tau_us = noise.tau_us;
  std::vector<TagSpeed> along;
  if (info.name == "vehicle.speed") along = tag_speeds_along(lines_, again_us);
  auto signed_speed = along.begin();
  const std::vector<Reading>& readings = lines_.readings(info.name);
  auto reading = std::ranges::partition_point(
      readings, [&](const Reading& one) { return lines_.line(one.line).stamp.time_us < again_us; });
  if (series.pieces.empty()) series.pieces.reserve(static_cast<size_t>(readings.end() - reading));
  const JobLine* last_used = nullptr;
  for (; reading != readings.end(); ++reading) {
    const JobLine& line = lines_.line(reading->line);
    double value = reading->value;
    while (signed_speed != along.end() && signed_speed->line < reading->line) ++signed_speed;
    const bool has_way = signed_speed != along.end() && signed_speed->line == reading->line;
    if (has_way) value = signed_speed->mps;
    series.named = true;
    const int64_t now_us = line.stamp.time_us;
    if (!series.pieces.empty())
      series.pieces.back().to_us = std::min(series.pieces.back().to_us, now_us);
    if (!usable(line)) continue;
    Piece piece{.from_us = now_us,
                .to_us = now_us + hole_us,
                .value = stored(value, info.resolution),
                .line = reading->line};
    piece.lo = piece.hi = piece.value;
    if (has_way) {
      // The way may go another way than the readings around say: then the reading's component along
      // it is larger, but never larger than the reading.
      const int64_t most = stored(reading->value, info.resolution);
      const int64_t far = piece.value < 0 ? -most : most;
      piece.lo = std::min(piece.value, far);
      piece.hi = std::max(piece.value, far);
    }
    piece.sd_milli =
        noise.milli + ceil_div(static_cast<Wide>(std::abs(piece.value)) * noise.share_ppm, 1000);
    if (!noise.from_register && line.read->kind == v1::Observation::kFix &&
        line.observation->fix().has_speed_sd_mps()) {
      piece.sd_milli = stored(line.observation->fix().speed_sd_mps(), 1e-6);
    }
    // Two readings at one instant: the later line stands.
    if (!series.pieces.empty() && series.pieces.back().to_us <= series.pieces.back().from_us)
      series.pieces.pop_back();
    series.pieces.push_back(piece);
    last_used = &line;
  }
  if (last_used != nullptr) series.origin = lines_.source_of(*last_used);
}

// Speed from the rope counter: change of line.out between neighbouring samples, signed. The s.d.
// of a bin's mean is that of two counter readings over the bin's length.
void Quantities::rope_speed(const QuantityInfo& info, const Series& out, int64_t bin_us,
                            int64_t from_us, Kept& kept) {
  Series& series = kept.series;
  const size_t first = last_before(out, from_us);
  const int64_t again_us = out.pieces.empty() ? kBeginning : out.pieces[first].from_us;
  while (!series.pieces.empty() && series.pieces.back().from_us >= again_us)
    series.pieces.pop_back();
  const Noise noise = noise_of(info);
  series.tau_us = noise.tau_us;
  series.named = true;
  series.origin = "rope counter";
  series.after_last = out.after_last;
  series.sd_of_mean = !noise.from_register;
  for (size_t i = first; i + 1 < out.pieces.size(); ++i) {
    const Piece& here = out.pieces[i];
    const Piece& next = out.pieces[i + 1];
    if (here.to_us < next.from_us) continue;  // A hole between them, or a gap.
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
}

// One leg of a bridle carries pull / (2 cos(angle / 2)).
void Quantities::leg_pull(const QuantityInfo& info, const Series& pull, const Series& angles,
                          int64_t from_us, Kept& kept) {
  Series& series = kept.series;
  const size_t first = last_before(pull, from_us);
  std::vector<Piece> pieces = std::move(series.pieces);
  while (!pieces.empty() && pieces.back().from_us >= pull.pieces[first].from_us) pieces.pop_back();
  series = {};
  series.tau_us = info.tau_us;
  series.named = pull.named;
  series.origin = pull.origin;
  const bool angle_ends = !pull.pieces.empty() && !angles.pieces.empty() &&
                          pull.pieces.back().from_us >= angles.pieces.back().to_us;
  series.after_last = angle_ends ? angles.after_last : pull.after_last;
  const Piece* angle = nullptr;
  double cosine = 1, sine = 0;
  for (size_t i = first; i < pull.pieces.size(); ++i) {
    Piece piece = pull.pieces[i];
    const Piece* angle_here = angles.at(piece.from_us);
    if (angle_here == nullptr || angle_here->value >= 179'000) continue;
    if (angle_here != angle) {
      angle = angle_here;
      const double half_deg = static_cast<double>(angle->value) / 2000.0;
      cosine = exact_cos_deg(half_deg);
      sine = exact_sin_deg(half_deg);
    }
    const double leg = static_cast<double>(piece.value) / (2.0 * cosine);
    // d(leg)/d(angle) = leg tan(angle/2) / 2 per radian; angle s.d. in milli-millidegrees.
    const double angle_sd_rad =
        static_cast<double>(angle->sd_milli) * 1e-6 * 3.14159265358979 / 180.0;
    const double from_angle = leg * sine / cosine / 2.0 * angle_sd_rad;
    const auto from_pull =
        static_cast<int64_t>(static_cast<double>(piece.sd_milli) / (2.0 * cosine)) + 1;
    piece.value = piece.lo = piece.hi = static_cast<int64_t>(std::floor(leg + 0.5));
    piece.sd_milli =
        root_sum_square(from_pull, static_cast<int64_t>(std::abs(from_angle) * 1000.0) + 1);
    pieces.push_back(piece);
  }
  series.pieces = std::move(pieces);
}

}  // namespace fairlead::judge
