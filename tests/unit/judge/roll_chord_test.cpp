// Length of a chord behind noise. Rice: seen^2 is length^2 + sd^2 of the noise across (S. O. Rice,
// "Mathematical analysis of random noise", Bell System Technical Journal 24, 1945). With nothing
// seen, the likelihood is half a normal distribution, whose 2.5 % and 97.5 % points are 0.0313 and
// 2.2414 sd (NIST/SEMATECH e-Handbook 1.3.6.7.1: normal points of 0.5125 and 0.9875).
#include "daemon/physics/roll_chord.h"

#include <gtest/gtest.h>

#include <cmath>

namespace fairlead::physics {
namespace {

constexpr double kTaken = 0.35, kPoint = 1.95996;

TEST(RollChord, FarAboveTheNoiseItIsRicesCorrection) {
  const ChordLength far = chord_length(10.0, 1.0);
  EXPECT_NEAR(far.mean, std::sqrt(99.0), 1e-12);
  EXPECT_EQ(far.sd, 1.0);
  EXPECT_EQ(chord_length(3.0, 0.0).mean, 3.0);
}

TEST(RollChord, WithNothingSeenItTakesItsShareOfHalfANormalDistribution) {
  const ChordLength none = chord_length(0.0, 2.0);
  EXPECT_NEAR(none.mean, kTaken * 2.0 * (2.2414 + 0.0313) / 2, 2e-3);
  EXPECT_NEAR(none.sd, 2.0 * (1 - kTaken) + kTaken * 2.0 * (2.2414 - 0.0313) / 2 / kPoint, 2e-3);
}

TEST(RollChord, IsContinuousAndGrowsWithWhatIsSeen) {
  double before = 0.0;
  for (int i = 0; i < 700; ++i) {
    const ChordLength here = chord_length(0.01 * i, 1.0);
    EXPECT_GE(here.mean, i > 0 && i <= 100 ? 0.0 : before - 1e-9) << i;
    EXPECT_LT(here.mean - before, i == 0 ? 1.0 : 0.12) << i;
    EXPECT_GT(here.sd, 0.8);
    EXPECT_LT(here.sd, 1.05);
    before = here.mean;
  }
}

}  // namespace
}  // namespace fairlead::physics
