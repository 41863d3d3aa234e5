// The filter of one state that says which noises are worth a filter of all: at rest it must say
// what that one says.
#include "daemon/physics/roll_rest.h"

#include <gtest/gtest.h>

#include "daemon/base/exact_math.h"
#include "tests/bench/roll_sim.h"

namespace fairlead::physics {
namespace {

TEST(RestVelocities, SayWhatTheWholeFilterSaysOfThem) {
  for (const RollNoise& noise : {RollNoise{60, 0.04, 0.04, 0.7}, RollNoise{60, 0.11, 0.06, 2.5},
                                 RollNoise{300, 0.22, 0.09, 20}}) {
    bench::Random random(7);
    RollFilter whole(noise, 2.5);
    RestVelocities rest(noise);
    for (int i = 0; i < 200; ++i) {
      const double dt = i % 7 == 0 ? 2.0 : 1.0, keep = exact_exp(-dt / noise.tau_d);
      const double off = i % 41 == 0 ? 2.5 : 0.0;  // An outlier now and then.
      const double east = off + 0.1 * random.normal(), north = 0.1 * random.normal();
      whole.advance({dt, 1.0, keep, 1.0, 1.0, false}, 2.5);
      rest.advance(keep);
      whole.observe_velocity(east, north);
      rest.observe(east, north);
      ASSERT_NEAR(rest.log_likelihood(), whole.log_likelihood(), 1e-7) << i;
    }
  }
}

// The third in a row is a step: what comes after is no outlier any more.
TEST(RestVelocities, FollowAStep) {
  RestVelocities rest({60, 0.1, 0.06, 20});
  double before = 0.0, cost[8];
  for (int i = 0; i < 28; ++i) {
    rest.advance(0.95);
    rest.observe(i < 20 ? 0.0 : 0.6, 0.0);
    if (i >= 20) cost[i - 20] = before - rest.log_likelihood();
    before = rest.log_likelihood();
  }
  for (const int i : {0, 1, 2}) EXPECT_GT(cost[i], 2.5) << i;  // 8 and the logarithm of s.
  EXPECT_LT(cost[7], 0.0);
}

}  // namespace
}  // namespace fairlead::physics
