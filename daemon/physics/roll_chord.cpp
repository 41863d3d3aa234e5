#include "daemon/physics/roll_chord.h"

#include <array>
#include <cmath>

namespace fairlead::physics {
namespace {

// For sd 1 and seen 0, 0.25, ... 6: middle and half of the span between the 2.5 % and the 97.5 %
// points of exp(-(x^2 + L^2) / 2) I0(x L) over L >= 0, the half in units of 1.95996.
constexpr double kTaken = 0.35;  // Of the way from the correction to Rice's likelihood.
constexpr double kApart = 0.25;
constexpr std::array<ChordLength, 25> kSeen{
    {{1.136, 0.564}, {1.154, 0.573}, {1.205, 0.598}, {1.285, 0.637}, {1.387, 0.687},
     {1.505, 0.743}, {1.635, 0.804}, {1.774, 0.865}, {1.922, 0.926}, {2.083, 0.981},
     {2.263, 1.027}, {2.475, 1.055}, {2.728, 1.062}, {3.006, 1.054}, {3.289, 1.043},
     {3.567, 1.033}, {3.838, 1.026}, {4.104, 1.021}, {4.367, 1.018}, {4.627, 1.015},
     {4.886, 1.013}, {5.143, 1.011}, {5.399, 1.010}, {5.654, 1.009}, {5.909, 1.008}}};

}  // namespace

ChordLength chord_length(double seen, double sd) {
  if (sd <= 0.0) return {seen, 0.0, seen};
  const double corrected = seen > sd ? std::sqrt(seen * seen - sd * sd) : 0.0;
  const double place = seen / sd / kApart;
  if (place >= static_cast<double>(kSeen.size() - 1)) return {corrected, sd, corrected};
  const auto low = static_cast<size_t>(place);
  const double share = place - static_cast<double>(low);
  const auto between = [&](double a, double b) { return sd * (a + share * (b - a)); };
  const double mean = between(kSeen[low].mean, kSeen[low + 1].mean),
               own = between(kSeen[low].sd, kSeen[low + 1].sd);
  return {corrected + kTaken * (mean - corrected), sd + kTaken * (own - sd), corrected};
}

}  // namespace fairlead::physics
