// What the rule forms share: verdict of an occasion, the worst of several, the outcome from them,
// reasons in their precedence, figures as they are printed, arithmetic of margins.
#include <gtest/gtest.h>

#include "daemon/judge/margins.h"
#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

Occasion with(Range margin, std::set<Reason> doubts = {}) {
  Occasion occasion;
  occasion.margin = margin;
  occasion.doubts = std::move(doubts);
  return occasion;
}

TEST(SharedForms, VerdictByTheEndsOfTheMargin) {
  // `under` excludes the limit itself: a margin of 0 is outside there.
  struct Row {
    Range margin;
    Verdict at_most, under;
  };
  const Row rows[] = {{{-1, -1, -1}, Verdict::kDeviated, Verdict::kDeviated},
                      {{0, 0, 0}, Verdict::kMet, Verdict::kDeviated},
                      {{1, 1, 1}, Verdict::kMet, Verdict::kMet},
                      {{-1, 0, 1}, Verdict::kUnproven, Verdict::kUnproven},
                      {{0, 0, 1}, Verdict::kMet, Verdict::kUnproven},
                      {{-1, -1, 0}, Verdict::kUnproven, Verdict::kDeviated},
                      {{std::nullopt, 5, 5}, Verdict::kUnproven, Verdict::kUnproven},
                      {{-5, -5, std::nullopt}, Verdict::kUnproven, Verdict::kUnproven},
                      {{5, 5, std::nullopt}, Verdict::kMet, Verdict::kMet},
                      {{std::nullopt, std::nullopt, -1}, Verdict::kDeviated, Verdict::kDeviated}};
  for (const Row& row : rows) {
    EXPECT_EQ(verdict_of(with(row.margin), Bounds::kAtMost), row.at_most) << &row - rows;
    EXPECT_EQ(verdict_of(with(row.margin), Bounds::kAtLeast), row.at_most) << &row - rows;
    EXPECT_EQ(verdict_of(with(row.margin), Bounds::kUnder), row.under) << &row - rows;
  }
}

TEST(SharedForms, DoubtsKeepAMetBackAndExcuseNothing) {
  EXPECT_EQ(verdict_of(with({1, 1, 1}, {Reason::kNotYet}), Bounds::kAtMost), Verdict::kUnproven);
  EXPECT_EQ(verdict_of(with({-1, -1, -1}, {Reason::kNoData}), Bounds::kAtMost), Verdict::kDeviated);
}

// Which of the margins is the worst, by its number.
size_t worst(std::vector<Occasion> occasions) {
  return static_cast<size_t>(&worst_of(occasions, Bounds::kAtMost) - occasions.data());
}

TEST(SharedForms, TheWorstIsFirstByVerdictThenByMargin) {
  const Occasion met = with({1, 1, 1}), open = with({-9, 2, 9}), out = with({-1, -1, -1});
  EXPECT_EQ(worst({met, open, out}), 2u);
  EXPECT_EQ(worst({out, open, met}), 0u);
  EXPECT_EQ(worst({met, open}), 1u);
  EXPECT_EQ(worst({open, met}), 0u);
  EXPECT_EQ(worst({with({5, 5, 5}), with({4, 4, 4}), with({6, 6, 6})}), 1u);
  EXPECT_EQ(worst({met, met, met}), 0u);  // Of equals the first.
  // By best where there is one, else by the low end; nothing known is worst.
  EXPECT_EQ(worst({with({1, 7, 9}), with({2, 3, 9}), with({0, 4, 9})}), 1u);
  EXPECT_EQ(worst({with({-1, 3, 9}), with({-4, std::nullopt, 9})}), 1u);
  EXPECT_EQ(worst({with({-9, 3, 9}), with({5, std::nullopt, 9}, {Reason::kNotYet})}), 0u);
  EXPECT_EQ(worst({with({-9, -9, 9}), with({std::nullopt, std::nullopt, 9})}), 1u);
}

Outcome concluded(const std::vector<Occasion>& occasions, const std::set<Reason>& hidden = {},
                  Bounds bounds = Bounds::kAtMost) {
  Outcome outcome;
  conclude_with(outcome, occasions, hidden, bounds);
  return outcome;
}

TEST(SharedForms, WithoutAnOccasionTheRuleDoesNotApplyOrNobodyKnows) {
  const Outcome none = concluded({});
  EXPECT_EQ(none.applies, Applies::kNo);
  EXPECT_EQ(none.verdict, Verdict::kNone);
  EXPECT_EQ(none.reason, Reason::kNone);
  const Outcome hidden = concluded({}, {Reason::kCutShort, Reason::kClockDoubt});
  EXPECT_EQ(hidden.applies, Applies::kUnknown);
  EXPECT_EQ(hidden.verdict, Verdict::kUnproven);
  EXPECT_EQ(hidden.reason, Reason::kClockDoubt);
}

TEST(SharedForms, OneDeviationCondemnsAndOnlyAllMetAcquit) {
  const Occasion met = with({2, 2, 2}), out = with({-3, -3, -3});
  EXPECT_EQ(concluded({met, met}).verdict, Verdict::kMet);
  EXPECT_EQ(concluded({met, out, met}).verdict, Verdict::kDeviated);
  EXPECT_EQ(concluded({met, out, met}).worst.margin.best, -3);
  EXPECT_EQ(concluded({met, out}).reason, Reason::kNone);
  EXPECT_EQ(concluded({met}).applies, Applies::kYes);
  // Of two as bad the first is shown.
  Occasion first = out, second = out;
  first.words = "first";
  second.words = "second";
  EXPECT_EQ(concluded({met, first, second}).worst.words, "first");
}

TEST(SharedForms, TheFirstOfAllReasonsOfWhatStaysOpen) {
  const Occasion close = with({-1, 0, 1}), late = with({-2, 5, 9}, {Reason::kCutShort});
  EXPECT_EQ(concluded({close}).reason, Reason::kTooClose);
  EXPECT_EQ(concluded({late}).reason, Reason::kCutShort);
  EXPECT_EQ(concluded({late, close}).reason, Reason::kTooClose);
  EXPECT_EQ(concluded({with({3, 3, 3}), late}).reason, Reason::kCutShort);
  EXPECT_EQ(concluded({late, with({-1, 1, 1}, {Reason::kNoData, Reason::kNotYet})}).reason,
            Reason::kNoData);
  // What deviates or is met gives no reason.
  EXPECT_EQ(concluded({with({-3, -3, -3}, {Reason::kNoData}), late}).reason, Reason::kNone);
  EXPECT_EQ(first_reason({}), Reason::kNone);
}

TEST(SharedForms, TheLimitInForceOnTheWorstOccasion) {
  Occasion own = with({-1, -1, -1});
  own.limit = 7;
  Outcome outcome;
  outcome.limit_stored = 3;
  conclude_with(outcome, {with({1, 1, 1}), own}, {}, Bounds::kAtMost);
  EXPECT_EQ(outcome.limit_stored, 7);
  conclude_with(outcome, {with({1, 1, 1})}, {}, Bounds::kAtMost);
  EXPECT_EQ(outcome.limit_stored, 7);  // Without one of its own the rule's stands.
}

TEST(SharedForms, TheWeakestLinkIsTheBasis) {
  EXPECT_EQ(weaker(Basis::kMeasured, Basis::kSaid), Basis::kSaid);
  EXPECT_EQ(weaker(Basis::kSaid, Basis::kPictured), Basis::kSaid);
  EXPECT_EQ(weaker(Basis::kPictured, Basis::kMeasured), Basis::kPictured);
  EXPECT_EQ(weaker(Basis::kNone, Basis::kMeasured), Basis::kMeasured);
}

TEST(SharedForms, FiguresInTheUnitOfTheLimit) {
  Outcome outcome;
  outcome.dimension = Dimension::kLength;
  outcome.unit = "ft";  // 304.8 mm, exactly.
  EXPECT_EQ(printed(outcome, 1000, Toward::kNearest), "3.2808");
  EXPECT_EQ(printed(outcome, 1000, Toward::kUp), "3.2809");
  outcome.unit = "km";
  EXPECT_EQ(printed(outcome, 1, Toward::kDown), "0.000001");  // What is not 0 is not shown as 0.
  EXPECT_EQ(printed(outcome, -1, Toward::kUp), "-0.000001");
  EXPECT_EQ(printed(outcome, 12, Toward::kDown), "0.000012");  // By two places more, not by one.
  EXPECT_EQ(printed(outcome, 0, Toward::kNearest), "0");
  EXPECT_EQ(printed(outcome, 123'456, Toward::kDown), "0.1234");
  outcome.dimension = Dimension::kTime;
  outcome.unit = "h";
  EXPECT_EQ(printed(outcome, 1, Toward::kNearest), "0.0000000003");
  outcome.unit = "no unit";
  EXPECT_EQ(printed(outcome, 12, Toward::kNearest), "12");
}

// "LIMIT in UNIT" of a rule on volts (or on the pull) while the scene is set.
std::string limit_in_words(const std::string& limit, const std::string& car,
                           const std::string& quantity = "clamp.volts") {
  const std::string procedure =
      "id: \"test\" version: \"1.0\" title: \"test\"\n"
      "phase { id: \"set\" opens: \"scene.set.on\" closes: \"scene.set.off\" }\nrule { " +
      rule_head("r") + "limit_in_phase { phase: \"set\" quantity: \"" + quantity + "\" " + limit +
      " } }";
  const auto rules =
      Rulebook::load({{"p.textproto", procedure}},
                     {{"r.textproto", car.empty() ? "" : "vehicle { id: \"car\" " + car + " }"}});
  EXPECT_TRUE(rules) << (rules ? "" : rules.error().message);
  if (!rules) return "";
  const Lines lines{opened_line(), line_at(5, "desk", 1, R"("scene":{"set":true})"),
                    closed_line(30, 2)};
  const Finding found = judge_job(*rules, lines).at(0);
  return found.limit + " in " + found.unit;
}

TEST(SharedForms, LimitsInWords) {
  const std::string car = "boost_min: \"11000 mV\" boost_max: \"15000 mV\"",
                    other = "mass: \"1500 kg\"";
  EXPECT_EQ(limit_in_words("at_least: \"11.5 V\"", car), "at least 11.5 V in V");
  EXPECT_EQ(limit_in_words("under: \"12000 mV\"", car), "under 12000 mV in mV");
  // The file's own word where it gives another limit than the rule would fall back on.
  const std::string least = "at_least: \"vehicle.boost_min or 11.5 V\"";
  EXPECT_EQ(limit_in_words(least, car), "at least 11000 mV in V");
  EXPECT_EQ(limit_in_words(least, other), "at least 11.5 V in V");
  EXPECT_EQ(limit_in_words(least, ""), "at least 11.5 V in V");
  EXPECT_EQ(limit_in_words("at_most: \"vehicle.boost_max or 15 V\"", car), "at most 15 V in V");
  const std::string only = "at_least: \"vehicle.boost_min\"";
  EXPECT_EQ(limit_in_words(only, car), "at least 11000 mV in mV");
  EXPECT_EQ(limit_in_words(only, other), "at least vehicle.boost_min, which no file gives in V");
  EXPECT_EQ(limit_in_words(only, ""), "at least vehicle.boost_min, which no file gives in V");
  EXPECT_EQ(limit_in_words("at_most: \"line.rating\"", car, "line.pull"),
            "at most line.rating in kN");
}

void expect_range(const Range& range, std::optional<int64_t> lo, std::optional<int64_t> best,
                  std::optional<int64_t> hi) {
  EXPECT_EQ(range.lo, lo);
  EXPECT_EQ(range.best, best);
  EXPECT_EQ(range.hi, hi);
}

TEST(Margins, TheSmallerEndForEnd) {
  const auto none = std::nullopt;
  expect_range(tighter({1, 5, 9}, {2, 3, 8}), 1, 3, 8);
  expect_range(tighter({2, 3, 8}, {1, 5, 9}), 1, 3, 8);
  // The low end only where both are known, the others where one is.
  expect_range(tighter({none, none, none}, {2, 3, 8}), none, 3, 8);
  expect_range(tighter({2, 3, 8}, {none, none, none}), none, 3, 8);
  expect_range(tighter({}, {}), none, none, none);
}

// Every combination of ends that are known and ends that are not.
TEST(Margins, EachEndByItself) {
  const std::optional<int64_t> ends[] = {std::nullopt, -2, 3};
  for (const auto& x : ends) {
    for (const auto& y : ends) {
      const std::optional<int64_t> either = x && y ? std::min(*x, *y) : x ? x : y;
      const std::optional<int64_t> both = x && y ? either : std::nullopt;
      for (const auto& other : ends) {
        EXPECT_EQ(tighter({x, other, other}, {y, other, other}).lo, both);
        EXPECT_EQ(tighter({other, x, other}, {other, y, other}).best, either);
        EXPECT_EQ(tighter({other, other, x}, {other, other, y}).hi, either);
        EXPECT_EQ(tighter({x, other, {}}, {y, {}, other}).lo, both);
        EXPECT_EQ(tighter({{}, other, x}, {other, {}, y}).hi, either);
        EXPECT_EQ(straddles({x, other, y}), x && y && *x < 0 && *y >= 0);
        Occasion one = with({x, other, y}, {Reason::kNoData});
        clear_if_inside(one);
        EXPECT_EQ(one.doubts.empty(), x && *x >= 0);
      }
    }
  }
}

TEST(Margins, LimitsOfATime) {
  const TimeDifference wait{3, 5, 9};
  expect_range(below(10, wait), 1, 5, 7);
  expect_range(above(4, wait), -1, 1, 5);
}

TEST(Margins, BothSidesOfNothing) {
  EXPECT_TRUE(straddles({-1, 0, 0}));
  EXPECT_TRUE(straddles({-1, 0, 1}));
  EXPECT_FALSE(straddles({0, 0, 1}));
  EXPECT_FALSE(straddles({-2, -1, -1}));
  EXPECT_FALSE(straddles({std::nullopt, 0, 1}));
  EXPECT_FALSE(straddles({-1, 0, std::nullopt}));
}

TEST(Margins, WhatIsInsideWhateverHidesIsNotDoubted) {
  Occasion inside = with({0, 1, 1}, {Reason::kNoData}), out = with({-1, 1, 1}, {Reason::kNoData}),
           unknown = with({std::nullopt, 1, 1}, {Reason::kNoData});
  for (Occasion* one : {&inside, &out, &unknown}) clear_if_inside(*one);
  EXPECT_TRUE(inside.doubts.empty());
  EXPECT_EQ(out.doubts.size(), 1u);
  EXPECT_EQ(unknown.doubts.size(), 1u);
}

}  // namespace
}  // namespace fairlead::judge
