// The shared risk's z against the normal quantile as Python's statistics.NormalDist gives it.
#include "daemon/judge/shared_risk.h"

#include <gtest/gtest.h>

namespace fairlead::judge {
namespace {

TEST(SharedRisk, IsTheQuantileRoundedUp) {
  struct Row {
    int64_t longest_us, tau_us;
    int64_t z_micro;
  };
  // ceil(1e6 NormalDist().inv_cdf(1 - 0.05 / max(1, 6 longest / tau))), CPython 3.11.
  for (const Row& row : {Row{1, 0, 1644854}, Row{1000000, 0, 1644854}, Row{0, 1000000, 1644854},
                         Row{1000000, 6000000, 1644854}, Row{1000000, 12000000, 1644854},
                         Row{1000000, 3000000, 1959964}, Row{300000000, 1500000, 3934606},
                         Row{14400000000, 200000, 5172097}, Row{60000000, 2000000, 3452433},
                         Row{10000000, 1000000, 3143981}, Row{1000000, 1, 5643460}}) {
    EXPECT_EQ(shared_risk_z_micro(row.longest_us, row.tau_us), row.z_micro)
        << row.longest_us << " " << row.tau_us;
  }
}

}  // namespace
}  // namespace fairlead::judge
