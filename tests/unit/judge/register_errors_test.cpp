// Wrong register files: each problem names file, line and column, what was wrong and what to do.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

using ::testing::ElementsAre;

struct Wrong {
  const char* about;
  std::string text;
  std::string says;
};

class WrongRegister : public ::testing::TestWithParam<Wrong> {};

TEST_P(WrongRegister, NamesPlaceProblemAndRemedy) {
  EXPECT_THAT(register_problems(GetParam().text), ElementsAre(GetParam().says));
}

const Wrong kWrong[] = {
    {"UnknownField", "vehicle { id: \"a\" rolling_sped: \"5 km/h\" }\n",
     "r.textproto:1:31: unknown field 'rolling_sped'; the nearest is 'rolling_speed'"},
    {"UnknownMessage", "vehicel { id: \"a\" }\n",
     "r.textproto:1:9: unknown field 'vehicel'; the nearest is 'vehicle'"},
    {"UnknownKind", "gear { id: \"g\" kind: WEBING }\n",
     "r.textproto:1:29: kind: unknown word 'WEBING'; the nearest is 'WEBBING'"},
    {"WrongDimension", "vehicle { id: \"a\"\n  mass: \"1500 km\" }\n",
     "r.textproto:2:3: mass: '1500 km' is a length, but a mass is wanted; write a number and one "
     "of: g, kg, t, lb"},
    {"UnknownUnit", "vehicle { id: \"a\"\n  mass: \"1500 kilos\" }\n",
     "r.textproto:2:3: mass: '1500 kilos' has the unknown unit 'kilos'; write a number and one of: "
     "g, kg, t, lb"},
    {"NegativeMass", "vehicle { id: \"a\" mass: \"-1500 kg\" }\n",
     "r.textproto:1:19: mass: '-1500 kg' is negative; it must not be"},
    {"FrontShare", "vehicle { id: \"a\" front_share: \"101 %\" }\n",
     "r.textproto:1:19: front_share: '101 %' is more than the whole car"},
    {"DeckTilt", "truck { id: \"t\" deck_tilt: \"11 m\" }\n",
     "r.textproto:1:17: deck_tilt: '11 m' is a length, but an angle is wanted; write a number and "
     "one of: mdeg, deg"},
    {"NegativeSpeedLimit", "vehicle { id: \"a\" rolling_speed: \"-5 km/h\" }\n",
     "r.textproto:1:19: rolling_speed: '-5 km/h' is negative; it must not be"},
    {"NegativeRating", "vehicle { id: \"a\"\n  point { id: \"front_eye\" rating: \"-20 kN\" } }\n",
     "r.textproto:2:27: rating: '-20 kN' is negative; it must not be"},
    {"PointTwice", "vehicle { id: \"a\"\n  point { id: \"eye\" }\n  point { id: \"eye\" } }\n",
     "r.textproto:3:11: id: point 'eye' stands twice; ids must differ"},
    {"VehicleTwice", "vehicle { id: \"a\" }\nvehicle { id: \"a\" }\n",
     "r.textproto:2:11: id: vehicle 'a' stands twice; ids must differ"},
    {"VehicleWithoutId", "vehicle { mass: \"1500 kg\" }\n",
     "r.textproto:1:11: id: a vehicle needs an id; add one"},
    {"GearTwice", "gear { id: \"g\" kind: CHAIN }\ngear { id: \"g\" kind: CHAIN }\n",
     "r.textproto:2:8: id: gear item 'g' stands twice; ids must differ"},
    {"GearWithoutKind", "gear { id: \"g\" wll: \"910 kg\" }\n",
     "r.textproto:1:8: kind: a piece of gear needs a kind, as WEBBING; add one"},
    {"NegativeWll", "gear { id: \"g\" kind: CHAIN wll: \"-910 kg\" }\n",
     "r.textproto:1:28: wll: '-910 kg' is negative; it must not be"},
    {"WrongDate", "gear { id: \"g\" kind: CHAIN\n  in_service: \"2025-13-10\" }\n",
     "r.textproto:2:3: in_service: '2025-13-10' is not a date; write it as 2026-12-31"},
    {"TwoWinches",
     "truck { id: \"t\" winch { line_speed: \"6 m/min\" }\n  winch { line_speed: \"6 m/min\" } }\n",
     "r.textproto:2:3: winch: more than one winch; one is judged, remove the others"},
    {"LayerWithoutLength", "truck { id: \"t\"\n  winch { layer { number: 1 pull: \"36 kN\" } } }\n",
     "r.textproto:2:19: number: a drum layer needs `pull` and `length`; add both"},
    {"UnknownChannel", "sensor { id: \"s\" channel: \"line.pul\" sd: \"30 N\" }\n",
     "r.textproto:1:18: channel: unknown quantity 'line.pul'; the nearest is 'line.pull'"},
    {"NegativeSpread", "sensor { id: \"s\" channel: \"line.pull\" sd: \"-30 N\" }\n",
     "r.textproto:1:39: sd: a standard deviation must not be negative"},
    {"SpreadOfAnotherDimension",
     "sensor { id: \"s\" channel: \"line.pull\" sd: \"1 % + 20 mm\" }\n",
     "r.textproto:1:39: sd: '20 mm' is a length, but a force is wanted; write a number and one of: "
     "N, daN, kN, lbf"},
    {"NegativeTau", "sensor { id: \"s\" channel: \"line.pull\" sd: \"30 N\" tau: \"-1 s\" }\n",
     "r.textproto:1:50: tau: '-1 s' is negative; it must not be"},
};
INSTANTIATE_TEST_SUITE_P(Table, WrongRegister, ::testing::ValuesIn(kWrong),
                         [](const auto& one) { return std::string(one.param.about); });

TEST(RegisterErrors, SeveralProblemsComeInOneGo) {
  const auto problems = register_problems(
      "vehicle { id: \"a\" mass: \"-3 kg\" rolling_speed: \"5 kg\" }\n"
      "vehicle { id: \"a\" }\n"
      "gear { id: \"g\" wll: \"910 kg\" }\n");
  ASSERT_EQ(problems.size(), 4u) << ::testing::PrintToString(problems);
  EXPECT_EQ(problems[0].substr(0, 25), "r.textproto:1:19: mass: '");
  EXPECT_EQ(problems[1].substr(0, 33), "r.textproto:1:33: rolling_speed: ");
  EXPECT_EQ(problems[2], "r.textproto:2:11: id: vehicle 'a' stands twice; ids must differ");
  EXPECT_EQ(problems[3],
            "r.textproto:3:8: kind: a piece of gear needs a kind, as WEBBING; add one");
}

TEST(RegisterErrors, AnIdMayStandInOneFileOnly) {
  const auto loaded = Rulebook::load(
      {}, {{"a.textproto", "truck { id: \"t\" }"}, {"b.textproto", "\ntruck { id: \"t\" }"}});
  ASSERT_FALSE(loaded);
  EXPECT_EQ(loaded.error().message, "b.textproto:2:9: id: truck 't' stands twice; ids must differ");
}

}  // namespace
}  // namespace fairlead::judge
