// Limits and ratings that are no whole stored unit accuse nobody who is inside them. Factors are
// written out here from NIST SP 811 (2008), appendix B.8, and section 8 and table 8 of the SI
// Brochure (9th ed.) for min, h, km/h and degC, as fractions of their own.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "daemon/judge/rulebook.h"
#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

using Wide = __int128;

struct Unit {
  const char *word, *quantity;
  int64_t num, den;  // Stored units in one.
};

constexpr Unit kUnits[] = {
    {"mm", "isolation.distance", 1, 1},
    {"cm", "isolation.distance", 10, 1},
    {"m", "isolation.distance", 1'000, 1},
    {"km", "isolation.distance", 1'000'000, 1},
    {"in", "isolation.distance", 254, 10},       // 2.54 cm
    {"ft", "isolation.distance", 3'048, 10},     // 0.3048 m
    {"mi", "isolation.distance", 1'609'344, 1},  // 1609.344 m
    {"mm/s", "truck.speed", 1, 1},
    {"m/s", "truck.speed", 1'000, 1},
    {"km/h", "truck.speed", 1'000'000, 3'600},
    {"m/min", "truck.speed", 1'000, 60},
    {"mph", "truck.speed", 44'704, 100},  // 0.44704 m/s
    {"ft/min", "truck.speed", 508, 100},  // 0.00508 m/s
    {"N", "line.pull", 1, 1},
    {"daN", "line.pull", 10, 1},
    {"kN", "line.pull", 1'000, 1},
    {"lbf", "line.pull", 44'482'216'152'605, 10'000'000'000'000},  // 4.448 221 615 260 5 N
    {"g", "vehicle.mass", 1, 1},
    {"kg", "vehicle.mass", 1'000, 1},
    {"t", "vehicle.mass", 1'000'000, 1},
    {"lb", "vehicle.mass", 45'359'237, 100'000},  // 0.453 592 37 kg
    {"mV", "clamp.volts", 1, 1},
    {"V", "clamp.volts", 1'000, 1},
    {"mA", "clamp.amps", 1, 1},
    {"A", "clamp.amps", 1'000, 1},
    {"mdeg", "deck.tilt", 1, 1},
    {"deg", "deck.tilt", 1'000, 1},
    {"degC", "battery.temp", 100, 1},
    {"mm/s2", "deck.accel_x", 1, 1},
    {"m/s2", "deck.accel_x", 1'000, 1}};

std::string procedure_with(const Unit& unit, const char* word, const std::string& number) {
  return fmt::format(
      "id: \"t\" version: \"1\" title: \"t\"\n"
      "phase {{ id: \"p\" opens: \"arrived\" closes: \"secured.checked\" longest: \"1 min\" }}\n"
      "rule {{ {} limit_in_phase {{ phase: \"p\" quantity: \"{}\" {}: \"{} {}\" sustained: \"1 s\" "
      "longest_gap: \"3 s\" }} }}",
      rule_head("r"), unit.quantity, word, number, unit.word);
}

int64_t compiled(const Unit& unit, const char* word, const std::string& number) {
  const auto procedure = compile_procedure({"p.textproto", procedure_with(unit, word, number)});
  EXPECT_TRUE(procedure) << (procedure ? "" : procedure.error().message);
  if (!procedure) return -1;
  return std::get<LimitInPhase>(procedure->rules.at(0).form).limit.constant.value_or(-1);
}

// Every whole figure near the limit, `thousandths` of a unit, against the exact fraction.
void hold_against_the_fraction(const Unit& unit, int64_t thousandths) {
  const std::string number = fmt::format("{}.{:03}", thousandths / 1'000, thousandths % 1'000);
  const Wide num = Wide{thousandths} * unit.num, den = Wide{1'000} * unit.den;
  const int64_t under = compiled(unit, "under", number), most = compiled(unit, "at_most", number),
                least = compiled(unit, "at_least", number);
  const auto near = static_cast<int64_t>(num / den);
  for (int64_t figure = near - 2; figure <= near + 2; ++figure) {
    const std::string what = fmt::format("{} {} and {}", number, unit.word, figure);
    // Twice the distance from the limit, times its denominator: a half is `den`.
    const Wide beyond = 2 * (Wide{figure} * den - num);
    EXPECT_EQ(figure >= under, beyond >= 0) << "under " << what;
    if (figure > most) {
      EXPECT_GT(beyond, 0) << "at most " << what;
    } else {
      EXPECT_LE(beyond, den) << "at most " << what;
    }
    if (figure < least) {
      EXPECT_LT(beyond, 0) << "at least " << what;
    } else {
      EXPECT_GE(beyond, -den) << "at least " << what;
    }
  }
}

TEST(WholeLimits, OfEveryUnitAreHeldAgainstExactFractions) {
  for (const Unit& unit : kUnits) {
    for (const int64_t thousandths :
         {1, 70, 333, 500, 667, 999, 1'000, 5'000, 20'000, 20'001, 74'999})
      hold_against_the_fraction(unit, thousandths);
  }
}

TEST(WholeLimits, TwentyMetresAMinuteAreAThirdMoreThan333) {
  const Unit unit{"m/min", "truck.speed", 1'000, 60};
  EXPECT_EQ(compiled(unit, "under", "20"), 334);
  EXPECT_EQ(compiled(unit, "at_most", "20"), 333);
  EXPECT_EQ(compiled(unit, "at_least", "20"), 333);
}

// A car at 333.2 mm/s, which is read as 333, against a limit of 333 1/3.
std::string told_at(const std::string& limit, double mps) {
  Lines lines{opened_line(), line_at(10, "operator", 2, R"("arrived":{})"),
              line_at(40, "operator", 3, R"("secured":{"checked":true})"), closed_line(50, 4)};
  for (uint32_t i = 0; i < 60; ++i) {
    lines.push_back(line_at(5 + i, "gps.truck", i + 1,
                            fmt::format(R"("fix":{{"latDeg":44.5,"lonDeg":-30,"speedMps":{},)"
                                        R"("hSdM":2,"speedSdMps":0,"mode":3}})",
                                        mps)));
  }
  return told(judged_form(
      "limit_in_phase { phase: \"p\" quantity: \"truck.speed\" " + limit +
          " sustained: \"1 s\" longest_gap: \"3 s\" }",
      lines,
      "phase { id: \"p\" opens: \"arrived\" closes: \"secured.checked\" longest: \"1 min\" }"));
}

TEST(WholeLimits, ACarInsideIsNotAccused) {
  EXPECT_EQ(told_at("under: \"20 m/min\"", 0.3332).substr(0, 3), "met");
  EXPECT_EQ(told_at("under: \"20 m/min\"", 0.334).substr(0, 8), "deviated");
  EXPECT_EQ(told_at("at_most: \"20 m/min\"", 0.3332).substr(0, 3), "met");
  EXPECT_EQ(told_at("at_most: \"20 m/min\"", 0.334).substr(0, 8), "deviated");
}

// The same limit in the vehicle's file.
TEST(WholeLimits, AFieldOfTheVehicleCountsAsTheSameWords) {
  const std::string text = procedure_with({"m/s", "truck.speed", 1, 1}, "under", "9");
  const std::string by_field =
      std::string(text).replace(text.find("9 m/s"), 5, "vehicle.rolling_speed or 9 m/s");
  const auto rules =
      Rulebook::load({{"p.textproto", by_field}},
                     {{"r.textproto", "vehicle { id: \"car\" rolling_speed: \"20 m/min\" }"}});
  ASSERT_TRUE(rules) << (rules ? "" : rules.error().message);
  const auto verdict_at = [&](double mps) {
    v1::Observation opened = opened_line();
    opened.mutable_opened()->set_vehicle("car");
    Lines lines{opened, line_at(10, "operator", 2, R"("arrived":{})"),
                line_at(40, "operator", 3, R"("secured":{"checked":true})"), closed_line(50, 4)};
    for (uint32_t i = 0; i < 60; ++i) {
      lines.push_back(line_at(5 + i, "gps.truck", i + 1,
                              fmt::format(R"("fix":{{"latDeg":44.5,"lonDeg":-30,"speedMps":{},)"
                                          R"("hSdM":2,"speedSdMps":0,"mode":3}})",
                                          mps)));
    }
    return judge_job(*rules, lines).at(0).verdict;
  };
  EXPECT_EQ(verdict_at(0.333), Verdict::kMet);
  EXPECT_EQ(verdict_at(0.334), Verdict::kDeviated);
}

// Four straps of 1,000 lb hold half of 8,000 lb exactly (49 CFR 393.106(d)): in grams neither is
// whole, and what rounding leaves open accuses nobody.
TEST(WholeLimits, StrapsInPoundsThatHoldJustEnough) {
  const auto verdict_with = [](const char* wll) {
    std::string gear = "vehicle { id: \"car\" mass: \"8000 lb\" }\n";
    for (int i = 1; i <= 4; ++i)
      gear += fmt::format(
          "gear {{ id: \"s{}\" kind: WEBBING width: \"50 mm\" wll: \"{}\" anchor_wll: \"{}\" "
          "in_service: \"2025-01-10\" inspect_by: \"2027-01-10\" }}\n",
          i, wll, wll);
    const std::string text =
        "id: \"t\" version: \"1\" title: \"t\"\n"
        "phase { id: \"p\" opens: \"arrived\" closes: \"secured.checked\" longest: \"1 min\" }\n"
        "rule { " +
        rule_head("r") + "enough_strength { phase: \"p\" of: \"tiedowns\" times_mass: \"0.5\" } }";
    const auto rules = Rulebook::load({{"p.textproto", text}}, {{"r.textproto", gear}});
    EXPECT_TRUE(rules) << (rules ? "" : rules.error().message);
    v1::Observation opened = opened_line();
    opened.mutable_opened()->set_vehicle("car");
    Lines lines{opened, line_at(40, "operator", 6, R"("arrived":{})"),
                line_at(50, "operator", 7, R"("secured":{"checked":true})"), closed_line(60, 8)};
    const char* wheels[] = {"LF", "RF", "LR", "RR"};
    for (uint32_t i = 0; i < 4; ++i) {
      lines.push_back(line_at(
          8 * (i + 1), "operator", i + 2,
          fmt::format(R"("tiedown":{{"on":true,"gear":"s{}","wheel":"{}","path":"ACROSS"}})", i + 1,
                      wheels[i])));
    }
    return judge_job(*rules, lines).at(0);
  };
  EXPECT_EQ(told(verdict_with("1000 lb")).substr(0, 20), "unproven(too_close) ");
  EXPECT_EQ(verdict_with("1001 lb").verdict, Verdict::kMet);
  EXPECT_EQ(verdict_with("999 lb").verdict, Verdict::kDeviated);
}

}  // namespace
}  // namespace fairlead::judge
