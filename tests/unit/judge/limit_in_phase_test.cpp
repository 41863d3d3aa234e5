// limit_in_phase: bins, their means and the risk shared over a phase, against figures worked out by
// hand. z = Phi^-1(1 - 0.05 / N_eff), N_eff = 6 x 300 s / 1.5 s = 1,200, is 3.938 (tail 4.17e-5;
// tables of the normal distribution); u = 1.645 s.d.; 5 km/h is kept as 1,389 mm/s.
#include <gtest/gtest.h>

#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

std::string limit_rule(const std::string& bound, const std::string& sustained) {
  return "rule { " + rule_head("speed") +
         "limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" " + bound +
         " sustained: \"" + sustained + "\" longest_gap: \"3 s\" } }";
}

// Rolling from 10 s to 20 s, one fix a second with the speed `mps(second)`.
template <typename Speed>
Lines rolling_job(Speed mps, double sd) {
  Lines lines{opened_line(), line_at(10, "operator", 2, R"("vehicleMode":{"mode":"ROLLING"})"),
              line_at(20, "operator", 3, R"("vehicleMode":{"mode":"PARKED"})"), closed_line(30, 4)};
  for (int second = 1; second < 25; ++second)
    lines.push_back(speed_line(second, static_cast<uint32_t>(second), mps(second), sd));
  return lines;
}

Finding judged(const Lines& lines, const std::string& bound, const std::string& sustained) {
  const std::vector<Finding> findings = judge_job(rulebook_of(limit_rule(bound, sustained)), lines);
  EXPECT_EQ(findings.size(), 1u);
  return findings.at(0);
}

TEST(LimitInPhase, MarginsOfTheExampleFinding) {
  const Finding found =
      judged(rolling_job([](int) { return 1.8; }, 0.1), "under: \"5 km/h\"", "1 s");
  EXPECT_EQ(found.verdict, Verdict::kDeviated);
  EXPECT_EQ(found.margin_lo, "-2.0736");    // 1389 - (1800 + 164.5) = -575.5, down to -576 mm/s
  EXPECT_EQ(found.margin_best, "-1.4796");  // 1389 - 1800 = -411 mm/s
  EXPECT_EQ(found.margin_hi, "-0.0612");    // 1389 - (1800 - 393.8) = -17.2, up to -17 mm/s
  EXPECT_EQ(found.unit, "km/h");
  EXPECT_EQ(found.basis, Basis::kMeasured);
  EXPECT_TRUE(found.settled);
}

TEST(LimitInPhase, BinsOnBothGridsAndTheirWorstMeanCount) {
  // 1.0 m/s but 2.0 m/s in [14, 15): the bin of 2 s from 14 (grid 1) or from 13 (grid 2) means 1.5.
  const auto one_fast = [](int second) { return second == 14 ? 2.0 : 1.0; };
  const Finding two_seconds = judged(rolling_job(one_fast, 0.01), "under: \"5 km/h\"", "2 s");
  EXPECT_EQ(two_seconds.verdict, Verdict::kDeviated);
  EXPECT_EQ(two_seconds.margin_best, "-0.3996");  // 1389 - 1500 = -111 mm/s
  // Over 4 s it means 1.25 m/s; s.d. x sqrt(2 x 1.5 / 4) = 8.66, u = 14.2: 1389 - 1264.3 = 124.7.
  const Finding four_seconds = judged(rolling_job(one_fast, 0.01), "under: \"5 km/h\"", "4 s");
  EXPECT_EQ(four_seconds.verdict, Verdict::kMet);
  EXPECT_EQ(four_seconds.margin_best, "0.5004");  // 139 mm/s
  EXPECT_EQ(four_seconds.margin_lo, "0.4464");    // 124 mm/s
}

TEST(LimitInPhase, NearTheLimitIsUndecidedBothWays) {
  // 1.3 m/s, s.d. 0.1: u clears only below 1.2245 m/s, z accuses only above 1.783 m/s.
  for (const double mps : {1.3, 1.6, 1.75}) {
    const Finding found =
        judged(rolling_job([&](int) { return mps; }, 0.1), "under: \"5 km/h\"", "1 s");
    EXPECT_EQ(found.verdict, Verdict::kUnproven) << mps;
    EXPECT_EQ(found.reason, Reason::kTooClose) << mps;
  }
  EXPECT_EQ(judged(rolling_job([](int) { return 1.22; }, 0.1), "under: \"5 km/h\"", "1 s").verdict,
            Verdict::kMet);
}

TEST(LimitInPhase, APhaseThatNeverHappenedIsNotKept) {
  Lines lines{opened_line(), line_at(10, "operator", 2, R"("vehicleMode":{"mode":"PARKED"})"),
              closed_line(30, 3)};
  const Finding found = judged(lines, "under: \"5 km/h\"", "1 s");
  EXPECT_EQ(found.applies, Applies::kNo);
  EXPECT_EQ(found.verdict, Verdict::kNone);
  EXPECT_FALSE(found.margin_best);
}

}  // namespace
}  // namespace fairlead::judge
