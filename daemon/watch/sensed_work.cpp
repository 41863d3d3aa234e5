#include "daemon/watch/sensed_work.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

namespace fairlead::watch {
namespace {

constexpr double kPullOn_N = 300, kPullOff_N = 150;
constexpr double kCurrentOn_A = 5, kCurrentOff_A = 2;
constexpr double kRope_m = 0.5, kTilt_deg = 6;
constexpr int64_t kShortest_us = 2'000'000;
// A sample holds so long; between two strips no more is missing.
constexpr int64_t kSamplesApart_us = 5'000'000;
constexpr int64_t kOneWork_us = 300'000'000;
// What stood further back than this says nothing of a change now.
constexpr int64_t kRestHolds_us = 60'000'000;

double at(const record::StripLane& lane, size_t i) {
  return static_cast<double>(lane.value[i]) * lane.resolution;
}

// While a level is up: from the first reading at `on` to the last before it falls below `off`.
void take_level(const record::StripLane& lane, Sensed what, double on, double off,
                std::vector<SensedStretch>& out) {
  std::optional<SensedStretch> open;
  for (size_t i = 0; i < lane.value.size(); ++i) {
    const double level = std::abs(at(lane, i));
    if (open && level < off) {
      out.push_back(*open);
      open.reset();
    }
    if (!open && level >= on) open = SensedStretch{what, lane.time_us[i], lane.time_us[i], 0};
    if (!open) continue;
    open->to_us = std::max(open->to_us, lane.time_us[i]);
    open->most = std::max(open->most, level);
  }
  if (open) out.push_back(*open);
}

// Joins stretches of one signal that are at most `apart_us` from each other.
std::vector<SensedStretch> joined(const std::vector<SensedStretch>& sorted, int64_t apart_us) {
  std::vector<SensedStretch> out;
  for (const SensedStretch& next : sorted) {
    const auto last = std::find_if(out.rbegin(), out.rend(), [&](const SensedStretch& known) {
      return known.what == next.what;
    });
    if (last == out.rend() || next.from_us - last->to_us > apart_us) {
      out.push_back(next);
      continue;
    }
    last->to_us = std::max(last->to_us, next.to_us);
    const bool change = next.what == Sensed::kRope || next.what == Sensed::kTilt;
    last->most = change ? last->most + next.most : std::max(last->most, next.most);
  }
  return out;
}

bool earlier(const SensedStretch& a, const SensedStretch& b) { return a.from_us < b.from_us; }

}  // namespace

std::vector<SensedStretch> WorkSensor::take(std::span<const record::StripLane> lanes) {
  std::vector<SensedStretch> out;
  for (const record::StripLane& lane : lanes) {
    if (!lane.job.empty() || lane.value.empty()) continue;
    if (lane.quality && *lane.quality != v1::Quality::GOOD) continue;
    if (lane.signal == "line.pull") take_level(lane, Sensed::kPull, kPullOn_N, kPullOff_N, out);
    if (lane.signal == "clamp.amps")
      take_level(lane, Sensed::kCurrent, kCurrentOn_A, kCurrentOff_A, out);
    if (lane.signal == "line.out") take_change(lane, Sensed::kRope, kRope_m, out);
    if (lane.signal == "deck.tilt") take_change(lane, Sensed::kTilt, kTilt_deg, out);
  }
  return out;
}

// Each time the value has gone `least` away from where it stood, that is a stretch.
void WorkSensor::take_change(const record::StripLane& lane, Sensed what, double least,
                             std::vector<SensedStretch>& out) {
  const auto key = std::pair(lane.source, lane.signal);
  Rest rest{lane.time_us.front(), at(lane, 0)};
  if (const auto known = rest_.find(key); known != rest_.end()) {
    const int64_t since = lane.time_us.front() - known->second.time_us;
    if (since >= 0 && since <= kRestHolds_us) rest = known->second;
  }
  for (size_t i = 0; i < lane.value.size(); ++i) {
    const double moved = std::abs(at(lane, i) - rest.value);
    if (moved < least) {
      // Still where it stood: what comes began no earlier than now.
      if (moved < least / 5) rest.time_us = std::max(rest.time_us, lane.time_us[i]);
      continue;
    }
    out.push_back({what, rest.time_us, std::max(rest.time_us, lane.time_us[i]), moved});
    rest = {lane.time_us[i], at(lane, i)};
  }
  rest_[key] = rest;
}

std::vector<std::vector<SensedStretch>> pieces_of_work(std::vector<SensedStretch> stretches) {
  std::ranges::stable_sort(stretches, earlier);
  stretches = joined(stretches, kSamplesApart_us);
  std::erase_if(stretches, [](const SensedStretch& one) {
    const bool level = one.what == Sensed::kPull || one.what == Sensed::kCurrent;
    return level && one.to_us - one.from_us < kShortest_us;
  });
  std::ranges::stable_sort(stretches, earlier);
  std::vector<std::vector<SensedStretch>> pieces;
  int64_t end_us = 0;
  for (const SensedStretch& one : stretches) {
    if (pieces.empty() || one.from_us - end_us > kOneWork_us) pieces.emplace_back();
    end_us = pieces.back().empty() ? one.to_us : std::max(end_us, one.to_us);
    pieces.back().push_back(one);
  }
  for (auto& piece : pieces) piece = joined(piece, kOneWork_us);
  return pieces;
}

std::string sensed_words(const SensedStretch& stretch) {
  switch (stretch.what) {
    case Sensed::kPull:
      return fmt::format("line pull up to {:.1f} kN", stretch.most / 1000);
    case Sensed::kRope:
      return fmt::format("rope moved {:.1f} m", stretch.most);
    case Sensed::kTilt:
      return fmt::format("deck tilted by {:.0f} degrees", stretch.most);
    case Sensed::kCurrent:
      return fmt::format("clamp current up to {:.0f} A", stretch.most);
  }
  return {};
}

}  // namespace fairlead::watch
