#include "plugins/gps/jump.h"

#include <algorithm>
#include <cmath>

namespace fairlead::gps {

namespace {
constexpr int kBelievedAfter = 5;
constexpr double kSpareMps = 2.0;
constexpr double kFastestMps = 60.0;
constexpr double kSigmas = 4.0;
constexpr int64_t kUnheardUs = 3'000'000;
// The receiver's time counts up to here; a longer or a negative step is a date that moved.
constexpr int64_t kLongestStepUs = 60'000'000;

double step_m(const Epoch& from, const Epoch& to) {
  int64_t step_us = std::max<int64_t>(to.arrived.mono_us - from.arrived.mono_us, 0);
  if (from.receiver_us && to.receiver_us) {
    int64_t own_us = *to.receiver_us - *from.receiver_us;
    if (own_us > 0 && own_us <= kLongestStepUs) step_us = std::max(step_us, own_us);
  }
  double fastest_mps = std::max(from.fix.speed_mps(), to.fix.speed_mps()) + kSpareMps;
  if (step_us > kUnheardUs) fastest_mps = std::max(fastest_mps, kFastestMps);
  return fastest_mps * static_cast<double>(step_us) / 1e6;
}

bool within(double reach_m, const Epoch& from, const Epoch& to) {
  return distance_m(from.fix, to.fix) <=
         reach_m + kSigmas * std::hypot(from.fix.h_sd_m(), to.fix.h_sd_m());
}
}  // namespace

JumpWatch::Verdict JumpWatch::believe(const Epoch& epoch, Verdict verdict) {
  good_ = last_ = epoch;
  reach_m_ = 0;
  run_ = 0;
  return verdict;
}

JumpWatch::Verdict JumpWatch::see(const Epoch& epoch) {
  if (!good_) return believe(epoch, Verdict::kSteady);
  double step = step_m(*last_, epoch);
  reach_m_ += step;
  if (within(reach_m_, *good_, epoch)) return believe(epoch, Verdict::kSteady);
  run_ = run_ > 0 && within(step, *last_, epoch) ? run_ + 1 : 1;
  if (run_ >= kBelievedAfter) return believe(epoch, Verdict::kSettled);
  last_ = epoch;
  return Verdict::kLeapt;
}

void JumpWatch::forget() { *this = JumpWatch(); }

}  // namespace fairlead::gps
