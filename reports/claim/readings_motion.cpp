// Readings of the truck's own motion while the car was on it: accelerations from the receiver's
// speeds against the g figures that tiedowns are reckoned for. Evidence on a shifted load either
// way; a receiver sees no bump and no kerb, and says so.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "daemon/base/time_text.h"
#include "daemon/judge/register_book.h"
#include "daemon/physics/securement_g.h"
#include "daemon/physics/truck_motion.h"
#include "reports/claim/readings.h"

namespace fairlead::reports {
namespace {

constexpr double kDefaultSdMps = 0.2;  // Of a truck's speed, by the record's vocabulary.

struct Figures {
  physics::AssumedG g;
  std::string words;
};

// By the base's rules: those of working load limits under 49 CFR 393.102, of EN 12195-1 there.
Figures figures_of(const v1::Register& files) {
  physics::Jurisdiction rules = physics::Jurisdiction::kUnitedStates;
  for (const v1::Base& base : files.base()) {
    if (const auto named = physics::jurisdiction_named(base.rules())) rules = *named;
  }
  if (physics::asks_for_directions(rules)) return {{}, std::string(physics::rules_of(rules))};
  const physics::GNeed& need = physics::kWorkingNeed;
  return {{.forward = need.forward, .rearward = need.rearward, .sideways = need.sideways},
          std::string(need.origin)};
}

// Fixes of the truck's receiver with a course, from the car on the truck to its leaving it. A speed
// without a course tells nothing of bends, so it is left out.
std::vector<physics::SpeedFix> drive_of(const ReadingInput& in) {
  std::vector<physics::SpeedFix> out;
  if (!in.facts.loaded) return out;
  const int64_t from_us = *in.facts.loaded;
  const int64_t to_us = in.facts.unloaded.value_or(in.facts.end_us);
  for (const v1::Observation& line : in.record.lines) {
    if (!line.has_fix() || line.source() != "gps.truck") continue;
    if (line.has_quality() && line.quality() != v1::Quality::GOOD) continue;
    const auto time = parse_time_us(line.time());
    if (!time || *time < from_us || *time > to_us) continue;
    const v1::Fix& fix = line.fix();
    const double sd = fix.has_speed_sd_mps() ? fix.speed_sd_mps() : kDefaultSdMps;
    if (!fix.has_course_deg() && fix.speed_mps() > sd) continue;
    const double course = fix.course_deg() * std::numbers::pi / 180;
    out.push_back({.time_us = *time,
                   .east_mps = fix.speed_mps() * std::sin(course),
                   .north_mps = fix.speed_mps() * std::cos(course),
                   .sd_mps = std::max(sd, 1e-3)});
  }
  std::ranges::stable_sort(out, {}, &physics::SpeedFix::time_us);
  const auto twice = std::ranges::unique(out, {}, &physics::SpeedFix::time_us);
  out.erase(twice.begin(), twice.end());
  return out;
}

struct Name {
  const char* id;
  const char* title;
};
Name name_of(physics::Push push) {
  switch (push) {
    case physics::Push::kForward:
      return {"motion_forward", "Load pushed forward: the truck slows"};
    case physics::Push::kRearward:
      return {"motion_rearward", "Load pushed rearward: the truck gains speed"};
    case physics::Push::kLeft:
      return {"motion_left", "Load pushed left: a bend to the right"};
    case physics::Push::kRight:
      return {"motion_right", "Load pushed right: a bend to the left"};
  }
  return {"", ""};
}

Reading reading_of(const ReadingInput& in, const physics::PeakMotion& peak,
                   const physics::MotionEvidence& evidence, const Figures& figures) {
  const physics::MotionSetting setting;
  const Name name = name_of(peak.push);
  Reading r{name.id, name.title, Side::kNotShown, "", "", "measured", ""};
  if (peak.within == physics::Verdict::kMet) r.side = Side::kInside;
  if (peak.within == physics::Verdict::kDeviated) r.side = Side::kOutside;
  const auto outward = [](double value, double to) {
    return fixed(to * std::ceil(to * value * 100) / 100, 2);
  };
  r.value = fmt::format("{} g ({} to {})", fixed(peak.best, 2), outward(peak.g.lo, -1),
                        outward(peak.g.hi, 1));
  r.limit = fmt::format("at most {:.3g} g", peak.assumed);
  r.words = fmt::format(
      "greatest mean over {} s by the truck's receiver, at {}; {} s of the way are covered; the "
      "figure assumed is that of {}; bumps, kerbs and shorter peaks do not show",
      fixed(setting.window_s, 0), in.local.clock(peak.at_us), fixed(evidence.seconds, 0),
      figures.words);
  if (evidence.longest_silence_s > setting.longest_gap_s)
    r.words += fmt::format(
        "; the receiver was silent for up to {} s, and what happened then does "
        "not show either",
        fixed(evidence.longest_silence_s, 0));
  return r;
}

}  // namespace

void add_motion_readings(const ReadingInput& in, std::vector<Reading>& out) {
  const std::vector<physics::SpeedFix> fixes = drive_of(in);
  if (fixes.empty()) return;
  const Figures figures = figures_of(in.record.register_files);
  const auto evidence = physics::motion_evidence(fixes, figures.g);
  if (!evidence) return;
  for (const physics::PeakMotion& peak : evidence->peaks)
    out.push_back(reading_of(in, peak, *evidence, figures));
}

}  // namespace fairlead::reports
