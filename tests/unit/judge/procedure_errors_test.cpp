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
     "p.textproto:4:84: least_count: wants a whole number from 0, without quotes, as 2; found "
     "\"two\""},
    {"WrongEnumWord",
     kHead + "rule { id: \"r\" title: \"r\" origin { text: \"x\" standing: PUBLISHD }\n  "
             "comes_first { first: \"opened\" then: \"closed\" } }\n",
     "p.textproto:2:65: standing: unknown word 'PUBLISHD'; the nearest is 'PUBLISHED'"},
    {"UnknownEvent",
     kHead + kPhase + rule("comes_first { first: \"line.tout.on\" then: \"rolling.on\" }"),
     "p.textproto:4:17: first: unknown event 'line.tout.on'; the nearest is 'line.taut.on'"},
    {"EventWithoutEdge",
     kHead + kPhase + rule("comes_first { first: \"line.taut\" then: \"rolling.on\" }"),
     "p.textproto:4:17: first: 'line.taut' is a fact; name its event 'line.taut.on' or "
     "'line.taut.off'"},
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
     "p.textproto:4:20: under: is missing; give one of `under`, `at_most`, `at_least`"},
    {"TwoBounds",
     kHead + kPhase +
         rule("limit_in_phase { phase: \"rolling\" quantity: \"vehicle.speed\" under: \"5 km/h\" "
              "at_most: \"5 km/h\" }"),
     "p.textproto:4:79: at_most: stands beside `under`; keep one of them"},
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
     "p.textproto:3:69: after: stands beside `before`; keep one of them"},
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
     "p.textproto:3:18: at_most: is missing; give one of `at_most`, `at_least`"},
    {"MoveClearWithoutSpeed",
     kHead + rule("never_together { state: \"tied\" with: \"ramp\" move_clear: \"100 m\" }"),
     "p.textproto:3:47: move_clear: '100 m' is no distance and speed; write it as \"100 m under 10 "
     "km/h\""},
    {"NeverWithItself", kHead + rule("never_together { state: \"tied\" with: \"tied\" }"),
     "p.textproto:3:34: with: equals `state`; name the other state"},
    {"RecheckWithoutLimit",
     kHead + rule("recheck_every { phase: \"job\" check: \"secured.checked\" }"),
     "p.textproto:3:19: distance: is missing; give it, a `time`, a `first_distance` or a "
     "`first_time`"},
    {"CountWithTwoBounds",
     kHead + rule("count_limit { phase: \"job\" event: \"note\" at_most: 1 exactly: 1 }"),
     "p.textproto:3:55: exactly: stands beside `at_most`; keep one of them"},
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

// What the parser says is put in words that say what to do.
const Wrong kOfForm[] = {
    {"TypographicQuotes", "id: \u201cp\u201d version: \"1\"\n",
     "p.textproto:1:5: \u201c is a typographic quote; write the plain one, \""},
    {"ByteOrderMark", "\xef\xbb\xbfid: \"p\" version: \"1\"\n",
     "p.textproto:1:1: the file begins with a byte-order mark; save it as UTF-8 without one"},
    {"LetterOutsideQuotes", "id: \u00fc\n",
     "p.textproto:1:5: '\u00fc' stands outside quotes; put the text in quotes, or take it out"},
    {"BraceMissingBeforeARule",
     kHead + "rule { " + rule_head("r") +
         "\n  comes_first { first: \"opened\" then: \"closed\" }\n" + "rule { id: \"q\" }\n",
     "p.textproto:4:6: 'rule' is no field of this block (id, title, origin, while_phase, unless, "
     "warn_at, comes_first, follows_within, stays_until, wait_between, limit_in_phase, "
     "total_in_phase, never_together, enough_strength, recheck_every, evidence_present, "
     "count_limit, sources_agree, all_of, any_of); take it out, or close the block with a } before "
     "it"},
    {"BraceMissingAtTheEnd", kHead + "phase { id: \"a\"",
     "p.textproto:2:16: the file ends inside a block; a } is missing: each { wants one of its own"},
    {"BraceTooMany", kHead + "phase { id: \"a\" } }\n",
     "p.textproto:2:19: a } too many; take it out, or open its block with a {"},
    {"NumberForText", kHead + rule("enough_strength { phase: \"job\" times_mass: 0.5 }"),
     "p.textproto:3:46: times_mass: 0.5 is a text; write it in quotes, \"0.5\""},
    {"QuantityWithoutQuotes",
     kHead + rule("follows_within { after: \"opened\" then: \"closed\" within: 10 s }"),
     "p.textproto:3:59: within: 10 s is a text; write it in quotes, \"10 s\""},
    {"QuotedCount", kHead + rule("enough_strength { phase: \"job\" least_count: \"2\" }"),
     "p.textproto:3:47: least_count: a count stands without quotes; write 2"},
    {"ColonMissing", "id \"p\"\n", "p.textproto:1:4: id: a colon is missing; write id: \"p\""},
    {"QuotedWord", kHead + "rule { id: \"r\" origin { text: \"x\" standing: \"PRACTICE\" } }\n",
     "p.textproto:2:45: standing: a word of the list stands without quotes; write PRACTICE"},
    {"WordOfNoList", kHead + "rule { id: \"r\" origin { text: \"x\" standing: HABIT } }\n",
     "p.textproto:2:51: standing: unknown word 'HABIT'; one of PUBLISHED, MAKER, PRACTICE"},
    {"TwoForms",
     kHead + rule("comes_first { first: \"opened\" then: \"closed\" } follows_within { after: "
                  "\"opened\" }"),
     "p.textproto:3:65: follows_within: the rule has its form already, comes_first; give each a "
     "rule of its own"},
    {"QuoteMissingBefore", kHead + "rule { id: \"r title: \"line taut\" }\n",
     "p.textproto:2:28: unknown field 'line'; if it is part of a text, a quote is missing before "
     "it; "
     "the fields here: id, title, origin, while_phase, unless, warn_at, comes_first, "
     "follows_within, stays_until, wait_between, limit_in_phase, total_in_phase, never_together, "
     "enough_strength, recheck_every, evidence_present, count_limit, sources_agree, all_of, "
     "any_of"},
    {"QuoteMissingInTheLine", kHead + "phase { id: \"a }\n",
     "p.textproto:2:17: a text is not closed in its line; a quote is missing"},
    {"BlockAsText", kHead + "longest_age: \"1 h\"\n",
     "p.textproto:2:14: longest_age: is a block, and \"1 h\" is none; write longest_age { fact age "
     "}"},
    {"NeitherTrueNorFalse",
     kHead + rule("comes_first { first: \"opened\" then: \"closed\" ever: yes }"),
     "p.textproto:3:58: ever: 'yes' is neither true nor false; write one of them without quotes"},
    {"QuotedTrue",
     kHead + rule("comes_first { first: \"opened\" then: \"closed\" ever: \"true\" }"),
     "p.textproto:3:54: ever: \"true\" is neither true nor false; write one of them without "
     "quotes"},
    {"SlashComment", kHead + "// walk\n",
     "p.textproto:2:1: a comment begins with #, not with a slash"},
};
INSTANTIATE_TEST_SUITE_P(OfForm, WrongProcedure, ::testing::ValuesIn(kOfForm),
                         [](const auto& one) { return std::string(one.param.about); });

const Wrong kSenseless[] = {
    {"PhotoOfNoView",
     kHead + rule("evidence_present { item: \"photo.before:fornt\" at_least: 1 before: "
                  "\"first_touch\" }"),
     "p.textproto:3:22: item: event 'photo.before:fornt': 'fornt' is not a known view; use one of "
     "front, rear, left, right, interior, dash, screen, odometer, roof, underedge, point:ID, "
     "wheel:LF, spot:WORDS; the nearest is 'front'"},
    {"PhotoOfNoWheel", kHead + rule("comes_first { first: \"photo:wheel:FL\" then: \"closed\" }"),
     "p.textproto:3:17: first: event 'photo:wheel:FL': 'FL' is unknown behind 'photo:wheel:'; one "
     "of LF, RF, LR, RR"},
    {"PhotoWithoutView", kHead + rule("comes_first { first: \"photo.before:\" then: \"closed\" }"),
     "p.textproto:3:17: first: 'photo.before:' wants a word behind its colon"},
    {"ItemOfNoKind", kHead + rule("comes_first { first: \"item:KEY\" then: \"closed\" }"),
     "p.textproto:3:17: first: event 'item:KEY': 'KEY' is unknown behind 'item:'; the nearest is "
     "'KEYS'"},
    {"WarnAtMoreThanAll",
     kHead + "rule { " + rule_head("r") +
         " warn_at: \"120 %\"\n  comes_first { first: \"opened\" "
         "then: \"closed\" } }\n",
     "p.textproto:2:93: warn_at: '120 %' is no part of the limit; write a share up to 100 %, as "
     "\"80 %\""},
    {"WarnAtWithoutPercent",
     kHead + "rule { " + rule_head("r") +
         " warn_at: \"80\"\n  comes_first { first: \"opened\" "
         "then: \"closed\" } }\n",
     "p.textproto:2:93: warn_at: '80' is no part of the limit; write a share up to 100 %, as "
     "\"80 %\""},
    {"FirstIsThen", kHead + rule("comes_first { first: \"opened\" then: \"opened\" }"),
     "p.textproto:3:33: then: equals `first`; name the other event"},
    {"FollowsItself",
     kHead + rule("follows_within { after: \"note\" then: \"note\" within: \"1 min\" }"),
     "p.textproto:3:34: then: equals `after`; it answers itself at once; for again and again use "
     "recheck_every"},
    {"WaitsForItself",
     kHead + rule("wait_between { from: \"note\" to: \"note\" at_most: \"1 s\" }"),
     "p.textproto:3:31: to: equals `from`; name the other event"},
    {"ClaimShownByItself",
     kHead +
         rule("sources_agree { phase: \"job\" claim: \"note\" with: \"note\" within: \"1 s\" }"),
     "p.textproto:3:46: with: equals `claim`; name the event or quantity that shows it"},
    {"ItemBeforeItself",
     kHead + rule("evidence_present { item: \"film\" at_least: 1 before: \"film\" }"),
     "p.textproto:3:22: item: is what it is to come before or after; name another"},
    {"WaitsFromAModeToTheNext",
     kHead + rule("wait_between { from: \"mode.rolling.on\" to: \"mode.parked.on\" at_most: "
                  "\"10 s\" }"),
     "p.textproto:3:18: from: 'mode.parked.on' ends 'mode.rolling.on', as there is one mode at a "
     "time, and must be in force at it; for how long something lasts use stays_until, for how soon "
     "the other follows use follows_within"},
    {"FirstOverWhenThenComes",
     kHead + rule("comes_first { first: \"tied.on\" then: \"tied.off\" }"),
     "p.textproto:3:17: first: 'tied.off' ends 'tied.on', and must be in force at it; if once "
     "before "
     "is enough, add ever: true"},
    {"OriginOfAMember",
     kHead +
         rule("any_of { rule { id: \"a\" origin { text: \"x\" standing: PRACTICE } comes_first { "
              "first: \"opened\" then: \"closed\" } } }"),
     "p.textproto:3:27: origin: stands in a set; give it to the set"},
    {"NoEvent", kHead + rule("comes_first { then: \"closed\" }"),
     "p.textproto:3:17: first: is missing; name an event"},
    {"EventForAFact", kHead + rule("stays_until { state: \"tied.on\" until: \"closed\" }"),
     "p.textproto:3:17: state: 'tied.on' is an event; name the fact, 'tied'"},
    {"FactForAQuantity",
     kHead + rule("limit_in_phase { phase: \"job\" quantity: \"tied\" under: \"5 km/h\" }"),
     "p.textproto:3:33: quantity: 'tied' is a fact, but a quantity is wanted"},
    {"NothingNear", kHead + rule("comes_first { first: \"paper\" then: \"closed\" }"),
     "p.textproto:3:17: first: unknown event 'paper'; `fairlead check-procedure --names` lists "
     "them"},
    {"APartOfAName",
     kHead + rule("limit_in_phase { phase: \"job\" quantity: \"speed\" under: \"5 km/h\" }"),
     "p.textproto:3:33: quantity: unknown quantity 'speed'; the nearest are 'vehicle.speed', "
     "'truck.speed'"},
    {"NoneOfTheHead",
     kHead + rule("limit_in_phase { phase: \"job\" quantity: \"truck.force\" under: \"5 N\" }"),
     "p.textproto:3:33: quantity: unknown quantity 'truck.force'; of 'truck.' there are "
     "truck.speed, "
     "truck.driven"},
    {"SameEnd", kHead + rule("comes_first { first: \"straps.checked\" then: \"closed\" }"),
     "p.textproto:3:17: first: unknown event 'straps.checked'; the nearest is 'secured.checked'"},
    {"DecimalComma",
     kHead + rule("limit_in_phase { phase: \"job\" quantity: \"line.pull\" under: \"1,5 kN\" }"),
     "p.textproto:3:55: under: '1,5 kN' has a comma; write a point before decimals, as \"1.5\", "
     "and "
     "nothing between thousands"},
    {"NoTime",
     kHead + rule("follows_within { after: \"opened\" then: \"closed\" within: \"soon\" }"),
     "p.textproto:3:51: within: 'soon' is not a time; write a number and one of: us, ms, s, min, "
     "h, "
     "d"},
    {"CharactersNotBytes",
     kHead + "rule { " + rule_head("\u00fc") +
         "\n\t comes_first { first: \"opend\" then: \"closed\" } "
         "}\n",
     "p.textproto:3:17: first: unknown event 'opend'; the nearest is 'opened'"},
};
INSTANTIATE_TEST_SUITE_P(Senseless, WrongProcedure, ::testing::ValuesIn(kSenseless),
                         [](const auto& one) { return std::string(one.param.about); });

// A job may stand under a file that an older program took: it is told, and judged as ever.
TEST(ProcedureErrors, AViewThatNoPhotoHasStillLoads) {
  const std::string text = kHead + rule(
                                       "evidence_present { item: \"photo.before:fornt\" "
                                       "at_least: 1 before: \"first_touch\" }");
  EXPECT_TRUE(Rulebook::load({{"p.textproto", text}}, {}));
  EXPECT_EQ(procedure_problems(text).size(), 1U);
}

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

TEST(ProcedureErrors, AnEmptyBlockIsNamedWhereItStands) {
  EXPECT_THAT(procedure_problems(kHead + "\n  longest_age { }\n"),
              ElementsAre("p.textproto:3:3: fact: is missing; name a fact",
                          "p.textproto:3:3: age: is missing; give a time, as \"10 s\""));
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
