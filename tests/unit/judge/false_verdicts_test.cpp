// limit_in_phase on simulated phases: at most 5 % of those that kept the limit are called deviated,
// at most 5 % of those that did not are called met. The truth is a speed at the limit less or plus
// up to 2 s.d.; the receiver's error is white or hangs together over 0.5 to 20 s, as the register
// says. FAIRLEAD_FALSE_RUNS: phases a setting (3,000 by hand).
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <random>

#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

constexpr double kSdMps = 0.1, kLimitMps = 1.4, kStepS = 0.5;
// Errors that do not hang together from fix to fix: each holds for the time to the next, so the
// register must not say less than half of that.
constexpr double kWhite = kStepS / 2;

Rulebook rules_for(double tau_s) {
  const std::string text =
      "id: \"t\" version: \"1\" title: \"t\"\nphase { id: \"rolling\" opens: \"rolling.on\" "
      "closes: \"rolling.off\" longest: \"1 min\" }\nrule { " +
      rule_head("r") +
      "limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" at_most: \"1.4 m/s\" "
      "sustained: \"1 s\" longest_gap: \"3 s\" } }";
  const std::string sensor = fmt::format(
      "sensor {{ id: \"tag\" channel: \"vehicle.speed\" sd: \"100 mm/s\" tau: \"{:.0f} ms\" "
      "certificate: \"C\" valid_until: \"2027-12-31\" }}\n",
      tau_s * 1000);
  auto rules = Rulebook::load({{"p.textproto", text}}, {{"r.textproto", sensor}});
  EXPECT_TRUE(rules) << (rules ? "" : rules.error().message);
  return *rules;
}

// One minute of rolling, two fixes a second, with an error of that s.d. and correlation time.
Lines phase(std::mt19937_64& random, double true_mps, double tau_s) {
  std::normal_distribution<double> normal(0.0, 1.0);
  Lines lines{opened_line(), line_at(10, "operator", 2, R"("vehicleMode":{"mode":"ROLLING"})"),
              line_at(70, "operator", 3, R"("vehicleMode":{"mode":"PARKED"})"), closed_line(90, 4)};
  const double keep = tau_s == kWhite ? 0.0 : std::exp(-kStepS / tau_s);
  double error = kSdMps * normal(random);
  for (uint32_t i = 0; i < 140; ++i) {
    error = keep * error + kSdMps * std::sqrt(1 - keep * keep) * normal(random);
    lines.push_back(speed_line(8 + kStepS * i, i + 1, std::abs(true_mps + error), kSdMps));
  }
  return lines;
}

// Share of phases with that verdict, in percent.
double share(Verdict verdict, double true_mps, double tau_s, int runs) {
  const Rulebook rules = rules_for(tau_s);
  std::mt19937_64 random(20260302);
  int hits = 0;
  for (int run = 0; run < runs; ++run)
    hits += judge_job(rules, phase(random, true_mps, tau_s)).at(0).verdict == verdict;
  return 100.0 * hits / runs;
}

TEST(FalseVerdicts, AtMostFivePercentEitherWay) {
  const char* wanted = std::getenv("FAIRLEAD_FALSE_RUNS");
  const int runs = wanted != nullptr ? std::atoi(wanted) : 200;
  ASSERT_GT(runs, 0);
  // 5 % and three standard errors of that many runs.
  const double most = 5.0 + 300.0 * std::sqrt(0.05 * 0.95 / runs);
  for (const double tau_s : {kWhite, 0.5, 1.5, 5.0, 20.0}) {
    for (const double sds : {0.0, -1.0}) {
      const double mps = kLimitMps + sds * kSdMps;
      const double accused = share(Verdict::kDeviated, mps, tau_s, runs);
      std::printf("tau %5.2f s, truth at limit %+.0f s.d.: %4.1f %% deviated\n", tau_s, sds,
                  accused);
      EXPECT_LE(accused, most) << "tau " << tau_s << ", " << sds << " s.d.";
    }
    for (const double sds : {0.2, 1.0}) {
      const double mps = kLimitMps + sds * kSdMps;
      const double acquitted = share(Verdict::kMet, mps, tau_s, runs);
      std::printf("tau %5.2f s, truth at limit %+.1f s.d.: %4.1f %% met\n", tau_s, sds, acquitted);
      EXPECT_LE(acquitted, most) << "tau " << tau_s << ", " << sds << " s.d.";
    }
  }
  // It can tell: 6 s.d. out is condemned, 4 s.d. in acquitted, nearly always.
  EXPECT_GE(share(Verdict::kDeviated, kLimitMps + 6 * kSdMps, 0.5, runs), 95.0);
  EXPECT_GE(share(Verdict::kMet, kLimitMps - 5 * kSdMps, kWhite, runs), 95.0);
}

}  // namespace
}  // namespace fairlead::judge
