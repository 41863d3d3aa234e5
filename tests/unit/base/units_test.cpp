// Units against the factors of NIST SP 811 (2008), appendix B.8, and RFC 3339 section 5.8's
// examples of times.
#include "daemon/base/units.h"

#include <gtest/gtest.h>

#include "daemon/base/exact_math.h"
#include "daemon/base/time_text.h"

namespace fairlead {
namespace {

int64_t stored(const char* text, Dimension dimension) {
  const auto quantity = parse_quantity(text, dimension);
  EXPECT_TRUE(quantity.has_value()) << text;
  return quantity ? quantity->nearest() : -999;
}

TEST(Units, ReadsThroughExactFactors) {
  EXPECT_EQ(stored("5 km/h", Dimension::kSpeed), 1389);
  EXPECT_EQ(stored("10 m", Dimension::kLength), 10'000);
  EXPECT_EQ(stored("1 in", Dimension::kLength), 25);          // 25.4 mm, NIST SP 811
  EXPECT_EQ(stored("1 mi", Dimension::kLength), 1'609'344);   // 1609.344 m, NIST SP 811
  EXPECT_EQ(stored("8003 lb", Dimension::kMass), 3'630'100);  // 0.453 592 37 kg, NIST SP 811
  EXPECT_EQ(stored("1000 lbf", Dimension::kForce), 4448);     // 4.448 221 615 260 5 N, NIST SP 811
  EXPECT_EQ(stored("-0.5 V", Dimension::kVoltage), -500);
  EXPECT_EQ(stored("6 m/min", Dimension::kSpeed), 100);
  EXPECT_EQ(stored("80 %", Dimension::kShare), 800'000);
  EXPECT_EQ(stored("0.5", Dimension::kShare), 500'000);
}

TEST(Units, RefusesWhatItCannotMean) {
  for (const char* text : {"", "km/h", "5", "5 parsecs", "5 kg", "1.2.3 km/h", "5. km/h",
                           "nan km/h", "1e3 km/h", "99999999999999999 km/h"}) {
    const auto quantity = parse_quantity(text, Dimension::kSpeed);
    ASSERT_FALSE(quantity.has_value()) << text;
    EXPECT_NE(quantity.error().message.find("km/h"), std::string::npos) << "no remedy for " << text;
  }
}

TEST(Units, PrintsOutward) {
  const Rational km_h = *unit_factor("km/h", Dimension::kSpeed);
  EXPECT_EQ(format_in_unit(-411, km_h, 4, Toward::kNearest), "-1.4796");
  const Rational lb = *unit_factor("lb", Dimension::kMass);
  EXPECT_EQ(format_in_unit(1'000'000, lb, 2, Toward::kDown), "2204.62");
  EXPECT_EQ(format_in_unit(1'000'000, lb, 2, Toward::kUp), "2204.63");
  EXPECT_EQ(format_in_unit(-1'000'000, lb, 2, Toward::kDown), "-2204.63");
}

TEST(Times, Rfc3339Examples) {
  // RFC 3339 section 5.8: these two are the same instant.
  EXPECT_EQ(*parse_time_us("1996-12-19T16:39:57-08:00"), *parse_time_us("1996-12-20T00:39:57Z"));
  // RFC 3339 section 5.8: the leap second at the end of 1990, both notations.
  EXPECT_EQ(*parse_time_us("1990-12-31T23:59:60Z"), *parse_time_us("1990-12-31T15:59:60-08:00"));
  EXPECT_EQ(format_time_us(*parse_time_us("1990-12-31T23:59:60Z")), "1990-12-31T23:59:59.999999Z");
  EXPECT_EQ(*parse_time_us("1970-01-01T00:00:01.5Z"), 1'500'000);
  for (const char* text :
       {"", "2026-03-02", "2026-02-30T00:00:00Z", "2026-03-02T10:05:00",
        "2026-03-02T10:05:00.1234567Z", "2026-03-02T25:05:00Z", "1969-01-01T00:00:00Z"}) {
    EXPECT_FALSE(parse_time_us(text).has_value()) << text;
  }
}

TEST(ExactMath, AgainstPublishedTables) {
  // Upper-tail normal quantiles as printed in the NIST/SEMATECH e-Handbook 1.3.6.7.1 to 3 places.
  EXPECT_NEAR(normal_tail_quantile(0.05), 1.645, 5e-4);
  EXPECT_NEAR(normal_tail_quantile(0.025), 1.960, 5e-4);
  EXPECT_NEAR(normal_tail_quantile(0.001), 3.090, 5e-4);
  // Abramowitz and Stegun, table 26.1: P(1) and P(3); table 4.4: e and ln 10.
  EXPECT_NEAR(normal_cdf(1.0), 0.841344746068543, 1e-13);
  EXPECT_NEAR(normal_cdf(3.0), 0.998650101968370, 1e-13);
  EXPECT_NEAR(exact_exp(1.0), 2.718281828459045, 1e-14);
  EXPECT_NEAR(exact_log(10.0), 2.302585092994046, 1e-14);
  EXPECT_NEAR(exact_sin_deg(30.0), 0.5, 1e-15);
  EXPECT_NEAR(exact_cos_deg(11.0), 0.981627183447664, 1e-14);
}

}  // namespace
}  // namespace fairlead
