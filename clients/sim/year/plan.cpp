#include "clients/sim/year/plan.h"

#include <algorithm>
#include <cmath>
#include <random>
#include <string_view>

namespace fairlead::sim {
namespace {

constexpr int64_t kDay = 86'400'000'000, kHour = 3'600'000'000;
constexpr double kClaims = 0.005, kSensedWithout = 0.01;
constexpr int64_t kSlot = 2 * kHour;  // No trace is longer than 62 minutes.

// Standard distributions differ between libraries; these do not.
class Dice {
 public:
  explicit Dice(uint64_t seed) : engine_(seed) {}
  double unit() { return static_cast<double>(engine_() >> 11) * 0x1.0p-53; }
  bool with(double chance) { return unit() < chance; }
  int64_t below(int64_t end) { return static_cast<int64_t>(unit() * static_cast<double>(end)); }

 private:
  std::mt19937_64 engine_;
};

struct Work {
  std::string_view name;
  double share;
};
constexpr Work kWorks[] = {{"carry", 0.40}, {"load", 0.30}, {"boost", 0.30}};

size_t draw_variant(Dice& dice, bool late) {
  double left = dice.unit();
  std::string_view work = kWorks[0].name;
  for (const Work& one : kWorks) {
    work = one.name;
    if (left < one.share) break;
    left -= one.share;
  }
  left = dice.unit();
  size_t last = 0;
  for (size_t i = 0; i < variants().size(); ++i) {
    const Variant& one = variants()[i];
    if (one.work != work) continue;
    last = i;
    const double share = late ? one.share_late : one.share;
    if (left < share) return i;
    left -= share;
  }
  return last;
}

}  // namespace

// The rates are choices; boost order gets worse in the last quarter, nothing else changes.
const std::vector<Variant>& variants() {
  static const std::vector<Variant> kVariants = {
      {"J-102", "carry", 0.925, 0.925},                  // All met.
      {"J-106", "carry", 0.02, 0.02},                    // Straps too weak.
      {"J-109", "carry", 0.005, 0.005},                  // Held by the line alone.
      {"J-102", "carry", 0.05, 0.05, false, "line"},     // No word from the line's cell.
      {"J-110", "load", 0.905, 0.905, true},             // All met.
      {"J-104", "load", 0.02, 0.02},                     // Rolled too far.
      {"J-107", "load", 0.015, 0.015},                   // Rolling before taut.
      {"J-110", "load", 0.03, 0.03},                     // No picture before touch.
      {"J-110", "load", 0.03, 0.03, true, "line"},       // No word from the line's cell.
      {"J-101", "boost", 0.94, 0.90},                    // All met.
      {"J-105", "boost", 0.02, 0.06},                    // Leads off in the wrong order.
      {"J-108", "boost", 0.005, 0.005},                  // 24 V on a 12 V car.
      {"J-101", "boost", 0.035, 0.035, false, "clamp"},  // No word from the clamps.
  };
  return kVariants;
}

double share_of_work(const Variant& variant) {
  for (const Work& one : kWorks) {
    if (one.name == variant.work) return one.share;
  }
  return 0;
}

// Each truck has slots of two hours; days are busy by day of week, every slot once.
std::vector<PlannedJob> plan_year(const YearPlan& plan) {
  Dice dice(plan.seed);
  const int64_t slots = static_cast<int64_t>(plan.days) * kDay / kSlot;
  const int64_t places = slots * kTrucks;
  const int64_t jobs = std::min<int64_t>(plan.jobs, places);
  std::vector<PlannedJob> out;
  // Floyd's way to draw without repeats needs a set; a step that visits every place does as well.
  int64_t left = jobs;
  for (int64_t place = 0; place < places && left > 0; ++place) {
    if (dice.below(places - place) >= left) continue;
    --left;
    PlannedJob job;
    const int64_t slot = place / kTrucks;
    job.truck = static_cast<int>(place % kTrucks) + 1;
    job.opened_us = plan.from_us + slot * kSlot + dice.below(50 * 60'000'000LL);
    job.variant = draw_variant(dice, 4 * slot >= 3 * slots);
    job.operator_ = static_cast<int>(dice.below(kOperators)) + 1;
    job.claimed = dice.with(kClaims);
    job.claim_after_days = 1 + static_cast<int>(-40 * std::log(1 - dice.unit()));
    job.sensed_without = dice.with(kSensedWithout);
    out.push_back(job);
  }
  std::ranges::stable_sort(out, {}, &PlannedJob::opened_us);
  return out;
}

}  // namespace fairlead::sim
