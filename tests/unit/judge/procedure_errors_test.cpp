// Wrong procedure files: each problem names file, line and column, what was wrong and what to do.
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

using ::testing::ElementsAre;
using ::testing::HasSubstr;

const std::string kHead = "id: \"p\" version: \"1\" title: \"p\"\n";
const std::string kPhase =
    "phase { id: \"rolling\" opens: \"rolling.on\" closes: \"rolling.off\" }\n";

// A rule on two lines: the head, then the form.
std::string rule(const std::string& form) {
  return "rule { " + rule_head("r") + "\n  " + form + " }\n";
}

struct Wrong {
  const char* about;
  std::string text;
  std::string says;  // The whole of the one problem.
};

class WrongProcedure : public ::testing::TestWithParam<Wrong> {};

TEST_P(WrongProcedure, NamesPlaceProblemAndRemedy) {
  EXPECT_THAT(procedure_problems(GetParam().text), ElementsAre(GetParam().says));
}

const Wrong kWrong[] = {
    {"UnknownField",
     kHead + kPhase + rule("comes_first { frist: \"line.taut.on\" then: \"rolling.on\" }"),
     "p.textproto:4:22: unknown field 'frist'; the nearest is 'first'"},
    {"UnknownFieldOfTheFile", kHead + "fase { id: \"x\" }\n",
     "p.textproto:2:6: unknown field 'fase'; the nearest is 'phase'"},
    {"NotUtf8", "id: \"p\" version: \"1\" title: \"\\377\"\n",
     "p.textproto:1:1: title: is not valid UTF-8; write the file as UTF-8"},
    {"FieldTwice", kHead + "id: \"q\"\n", "p.textproto:2:3: id: stands twice; keep one"},
    {"WrongType",
     kHead + kPhase +
         rule("enough_strength { phase: \"rolling\" of: \"tiedowns\" times_mass: \"0.5\" "
              "least_count: \"two\" }"),
     "p.textproto:4:84: Expected integer, got: \"two\""},
    {"WrongEnumWord",
     kHead + "rule { id: \"r\" title: \"r\" origin { text: \"x\" standing: PUBLISHD }\n  "
             "comes_first { first: \"opened\" then: \"closed\" } }\n",
     "p.textproto:2:65: standing: unknown word 'PUBLISHD'; the nearest is 'PUBLISHED'"},
    {"UnknownEvent",
     kHead + kPhase + rule("comes_first { first: \"line.tout.on\" then: \"rolling.on\" }"),
     "p.textproto:4:17: first: unknown event 'line.tout.on'; the nearest is 'line.taut.on'"},
    {"EventWithoutEdge",
     kHead + kPhase + rule("comes_first { first: \"line.taut\" then: \"rolling.on\" }"),
     "p.textproto:4:17: first: unknown event 'line.taut'; the nearest is 'line.taut.on'"},
    {"UnknownPhase",
     kHead + kPhase +
         rule("limit_in_phase { phase: \"roling\" quantity: \"vehicle.speed\" under: \"5 km/h\" }"),
     "p.textproto:4:20: phase: unknown phase 'roling'; the nearest is 'rolling'"},
    {"UnknownQuantity",
     kHead + kPhase +
         rule("limit_in_phase { phase: \"rolling\" quantity: \"vehicle.sped\" under: \"5 km/h\" }"),
     "p.textproto:4:37: quantity: unknown quantity 'vehicle.sped'; the nearest is 'vehicle.speed'"},
    {"UnknownCaution",
     kHead + "caution { id: \"C1\" say: \"Stand clear.\" }\nstep { id: \"S1\" say: \"Pull\" "
             "caution: \"C2\" }\n",
     "p.textproto:3:29: caution: unknown caution 'C2'; the nearest is 'C1'"},
    {"WrongDimension",
     kHead + kPhase +
         rule("limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" under: \"5 kN\" }"),
     "p.textproto:4:63: under: '5 kN' is a force, but a speed is wanted; write a number and one "
     "of: mm/s, m/s, km/h, mph, m/min, ft/min"},
    {"WrongDimensionOfFileField",
     kHead + kPhase +
         rule("limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" under: "
              "\"vehicle.rolling_distance or 5 km/h\" }"),
     "p.textproto:4:63: under: 'vehicle.rolling_distance' is a length, but a speed is wanted"},
    {"UnknownUnit",
     kHead + kPhase +
         rule("limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" under: \"5 kmh\" }"),
     "p.textproto:4:63: under: '5 kmh' has the unknown unit 'kmh'; write a number and one of: "
     "mm/s, m/s, km/h, mph, m/min, ft/min"},
    {"UnknownFileField",
     kHead + kPhase +
         rule("limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" under: "
              "\"vehicle.roling_speed or 5 km/h\" }"),
     "p.textproto:4:63: under: 'vehicle.roling_speed' is no quantity text, file field or quantity; "
     "the nearest is 'vehicle.rolling_speed'"},
    {"NoBound",
     kHead + kPhase + rule("limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" }"),
     "p.textproto:4:37: quantity: needs exactly one of `under`, `at_most`, `at_least`"},
    {"TwoBounds",
     kHead + kPhase +
         rule("limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" under: \"5 km/h\" "
              "at_most: \"5 km/h\" }"),
     "p.textproto:4:37: quantity: needs exactly one of `under`, `at_most`, `at_least`"},
    {"NegativeLimit",
     kHead + kPhase +
         rule("limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" under: \"-5 km/h\" "
              "}"),
     "p.textproto:4:63: under: '-5 km/h' is negative; a speed limit must not be"},
    {"NegativeTime",
     kHead + kPhase +
         rule("comes_first { first: \"line.taut.on\" then: \"rolling.on\" min_gap: \"-1 s\" }"),
     "p.textproto:4:58: min_gap: '-1 s' is negative; it must not be"},
    {"TotalAsLimit",
     kHead + kPhase +
         rule("limit_in_phase { phase: \"rolling\" quantity: \"vehicle.rolled\" under: \"10 m\" }"),
     "p.textproto:4:37: quantity: 'vehicle.rolled' is a total; use total_in_phase"},
    {"MissingOrigin",
     kHead + kPhase +
         "rule { id: \"r\" title: \"r\"\n  comes_first { first: \"line.taut.on\" then: "
         "\"rolling.on\" } }\n",
     "p.textproto:3:8: origin: is missing; name where the rule comes from (`text`) and its "
     "`standing`"},
    {"OriginWithoutStanding",
     kHead + "rule { id: \"r\" title: \"r\" origin { text: \"x\" }\n  comes_first { first: "
             "\"opened\" then: \"closed\" } }\n",
     "p.textproto:2:27: origin: is missing; name where the rule comes from (`text`) and its "
     "`standing`"},
    {"MissingForm",
     kHead + "rule { id: \"r\" title: \"r\" origin { text: \"common practice, no source\" "
             "standing: PRACTICE } }\n",
     "p.textproto:2:8: id: has no form; add one, as comes_first { ... }"},
    {"MissingId", "version: \"1\" title: \"p\"\n", "p.textproto:1:1: id: is missing; add it"},
    {"RuleTwice",
     kHead + rule("comes_first { first: \"opened\" then: \"closed\" }") +
         rule("comes_first { first: \"opened\" then: \"closed\" }"),
     "p.textproto:4:8: id: rule 'r' stands twice; ids must differ"},
    {"PhaseTwice", kHead + kPhase + kPhase,
     "p.textproto:3:9: id: phase 'rolling' stands twice; ids must differ"},
    {"StepTwice", kHead + "step { id: \"S1\" say: \"a\" }\nstep { id: \"S1\" say: \"b\" }\n",
     "p.textproto:3:8: id: step 'S1' stands twice; ids must differ"},
    {"CautionTwice",
     kHead + "caution { id: \"C1\" say: \"a\" }\ncaution { id: \"C1\" say: \"b\" }\n",
     "p.textproto:3:11: id: caution 'C1' stands twice; ids must differ"},
    {"BuiltInPhase", kHead + "phase { id: \"job\" opens: \"opened\" closes: \"closed\" }\n",
     "p.textproto:2:9: id: phase 'job' is built in; choose another id"},
    {"NoItems", kHead + rule("evidence_present { at_least: 1 before: \"first_touch\" }"),
     "p.textproto:3:22: item: is missing; name at least one event"},
    {"NoCount", kHead + rule("evidence_present { item: \"film\" before: \"first_touch\" }"),
     "p.textproto:3:22: at_least: is missing; give a number of items from 1"},
    {"BeforeAndAfter",
     kHead + rule("evidence_present { item: \"film\" at_least: 1 before: \"first_touch\" after: "
                  "\"opened\" }"),
     "p.textproto:3:47: before: needs exactly one of `before` and `after`"},
    {"ShareMissing",
     kHead + kPhase + rule("enough_strength { phase: \"rolling\" of: \"tiedowns\" }"),
     "p.textproto:4:21: times_mass: is missing; give the share of the mass, as \"0.5\""},
    {"NeitherTiedownsNorRigging",
     kHead + kPhase +
         rule("enough_strength { phase: \"rolling\" of: \"tiedown\" times_mass: \"0.5\" }"),
     "p.textproto:4:38: of: 'tiedown' is neither 'tiedowns' nor 'rigging'"},
    {"WithinMissing", kHead + rule("follows_within { after: \"opened\" then: \"closed\" }"),
     "p.textproto:3:20: within: is missing; give a time, as \"10 s\""},
    {"UnknownState", kHead + rule("stays_until { state: \"bost\" until: \"closed\" }"),
     "p.textproto:3:17: state: unknown fact 'bost'; the nearest is 'boost'"},
    {"DwellNothingMeets",
     kHead + rule("stays_until { state: \"boost\" until: \"closed\" at_least: \"2 min\" at_most: "
                  "\"1 min\" }"),
     "p.textproto:3:66: at_most: is less than `at_least`; nothing could meet both"},
    {"WaitWithoutBound", kHead + rule("wait_between { from: \"opened\" to: \"closed\" }"),
     "p.textproto:3:18: from: needs exactly one of `at_most`, `at_least`"},
    {"MoveClearWithoutSpeed",
     kHead + rule("never_together { state: \"tied\" with: \"ramp\" move_clear: \"100 m\" }"),
     "p.textproto:3:47: move_clear: '100 m' is no distance and speed; write it as \"100 m under 10 "
     "km/h\""},
    {"NeverWithItself", kHead + rule("never_together { state: \"tied\" with: \"tied\" }"),
     "p.textproto:3:34: with: equals `state`; name the other state"},
    {"RecheckWithoutLimit",
     kHead + rule("recheck_every { phase: \"job\" check: \"secured.checked\" }"),
     "p.textproto:3:32: check: needs a `distance`, a `time`, a `first_distance` or a `first_time`"},
    {"CountWithTwoBounds",
     kHead + rule("count_limit { phase: \"job\" event: \"note\" at_most: 1 exactly: 1 }"),
     "p.textproto:3:30: event: needs exactly one of `at_most`, `exactly`, `at_least`"},
    {"AgreeOnTwoKinds",
     kHead +
         rule("sources_agree { phase: \"job\" quantity: \"line.pull\" with: \"line.out\" within: "
              "\"5 N\" }"),
     "p.textproto:3:54: with: 'line.out' is a length, but 'line.pull' is a force"},
    {"EmptySet", kHead + rule("all_of { }"),
     "p.textproto:3:3: all_of: is empty; a set needs at least one rule"},
    {"SetTooDeep",
     kHead + rule("all_of { rule { id: \"a\" any_of { rule { id: \"b\" all_of { rule { id: \"c\" "
                  "comes_first { first: \"opened\" then: \"closed\" } } } } } } }"),
     "p.textproto:3:60: rule: stands in a set within a set within a set; two deep is the most"},
    {"UnknownStep", kHead + rule("comes_first { first: \"step.done:S1\" then: \"closed\" }"),
     "p.textproto:3:17: first: event 'step.done:S1' names the unknown step 'S1'; declare it"},
    {"AgeOfADerivedFact", kHead + "longest_age { fact: \"boost\" age: \"1 min\" }\n",
     "p.textproto:2:15: fact: 'boost' is derived from other facts; give the age of those"},
    {"ChangeOfNoTotal", kHead + "fastest_change { quantity: \"line.pull\" rate: \"1 m/s\" }\n",
     "p.textproto:2:18: quantity: 'line.pull' is no total, and only totals grow in a hole; name "
     "vehicle.rolled or truck.driven"},
    {"PhasesThatWaitForEachOther",
     kHead + "phase { id: \"a\" opens: \"phase:a.on\" closes: \"closed\" }\n",
     "p.textproto:2:17: opens: the phase can never open, as it waits for a phase that waits for "
     "it; "
     "open one of them by another event"},
};
INSTANTIATE_TEST_SUITE_P(Table, WrongProcedure, ::testing::ValuesIn(kWrong),
                         [](const auto& one) { return std::string(one.param.about); });

TEST(ProcedureErrors, SeveralProblemsComeInOneGo) {
  const auto problems = procedure_problems(
      kHead + kPhase + rule("comes_first { first: \"clamp.negativ.off\" then: \"opend\" }") +
      "rule { id: \"r\" title: \"again\"\n  limit_in_phase { phase: \"roling\" quantity: "
      "\"vehicle.speed\" under: \"5 kg\" } }\n");
  ASSERT_EQ(problems.size(), 6u) << ::testing::PrintToString(problems);
  EXPECT_THAT(problems[0], HasSubstr("p.textproto:4:17: first: "));
  EXPECT_THAT(problems[1], HasSubstr("p.textproto:4:44: then: "));
  EXPECT_THAT(problems[2], HasSubstr("p.textproto:5:8: id: rule 'r' stands twice"));
  EXPECT_THAT(problems[3], HasSubstr("p.textproto:5:8: origin: is missing"));
  EXPECT_THAT(problems[4], HasSubstr("p.textproto:6:20: phase: unknown phase 'roling'"));
  EXPECT_THAT(problems[5], HasSubstr("p.textproto:6:62: under: "));
}

TEST(ProcedureErrors, SeveralFilesComeInOneGo) {
  const auto loaded = Rulebook::load({{"a.textproto", "nonsense: 1"}, {"b.textproto", "id: 3"}},
                                     {{"c.textproto", "vehicle { id: \"\" }"}});
  ASSERT_FALSE(loaded);
  EXPECT_EQ(loaded.error().code, Code::kBadInput);
  for (const char* name : {"a.textproto:1:", "b.textproto:1:", "c.textproto:1:"})
    EXPECT_THAT(loaded.error().message, HasSubstr(name));
}

TEST(ProcedureErrors, ASoundFileHasNone) {
  EXPECT_THAT(
      procedure_problems(kHead + kPhase +
                         rule("comes_first { first: \"line.taut.on\" then: \"rolling.on\" }")),
      ElementsAre());
}

}  // namespace
}  // namespace fairlead::judge
