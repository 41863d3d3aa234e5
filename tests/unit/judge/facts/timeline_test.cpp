// Three-valued facts over time (judging.md 3): what is so at an instant, two joined, what does not
// last, what is unknown.
#include "daemon/judge/timeline.h"

#include <gtest/gtest.h>

#include "tests/unit/judge/facts/facts_kit.h"

namespace fairlead::judge {
namespace {

constexpr Tri kF = Tri::kFalse, kT = Tri::kTrue, kU = Tri::kUnknown;

struct Point {
  int64_t us;
  Tri value;
  int64_t late_us = 0;
  Reason why = Reason::kNone;
};

// Each change says the number it was given in as its line.
Timeline timeline(Tri initial, const std::vector<Point>& points) {
  Timeline out(initial);
  int line = 0;
  for (const Point& point : points) {
    Change change{.at = {}, .value = point.value, .why_unknown = point.why};
    change.at.time_us = point.us;
    change.at.late_us = point.late_us;
    change.at.line = line++;
    out.add(change);
  }
  return out;
}

std::string tell(const Timeline& timeline) { return told(timeline, 0); }

TEST(TimeFromTo, AddsWhatEachMayBeOffBy) {
  const Stamp a{.time_us = 10, .early_us = 1, .late_us = 2, .frame = 0, .clock_u_us = 3};
  const Stamp b{.time_us = 100, .early_us = 5, .late_us = 7, .frame = 1, .clock_u_us = 4};
  const auto apart = time_from_to(a, b);  // 3, 4: 5 (a right triangle).
  ASSERT_TRUE(apart);
  EXPECT_EQ(apart->lo_us, 90 - 5 - 5 - 2);
  EXPECT_EQ(apart->best_us, 90);
  EXPECT_EQ(apart->hi_us, 90 + 5 + 7 + 1);
  Stamp same = b;
  same.frame = 0;
  const auto one_clock = time_from_to(a, same);
  ASSERT_TRUE(one_clock);
  EXPECT_EQ(one_clock->lo_us, 83);
  EXPECT_EQ(one_clock->hi_us, 98);
}

TEST(TimeFromTo, ComparesNothingWithAClockOfWhichNothingIsKnown) {
  Stamp a{.time_us = 1, .frame = 0, .clock_u_us = 0}, b{.time_us = 2, .frame = 1, .clock_u_us = 0};
  EXPECT_TRUE(time_from_to(a, b));
  b.clock_u_us = -1;
  EXPECT_FALSE(time_from_to(a, b));
  EXPECT_FALSE(time_from_to(b, a));
  a.frame = 1;  // One clock: no matter.
  EXPECT_TRUE(time_from_to(a, b));
}

TEST(Timeline, TellsWhatIsSoAtAnInstant) {
  const Timeline fact = timeline(kF, {{5, kT}, {8, kF}});
  EXPECT_EQ(fact.at(4), kF);
  EXPECT_EQ(fact.at(5), kT);
  EXPECT_EQ(fact.at(7), kT);
  EXPECT_EQ(fact.at(8), kF);
  EXPECT_EQ(fact.change_at(4), nullptr);
  EXPECT_EQ(fact.change_at(5)->at.line, 0);
  EXPECT_EQ(fact.change_at(900)->at.line, 1);
  EXPECT_EQ(Timeline(kU).at(0), kU);
  EXPECT_EQ(Timeline(kT).change_at(0), nullptr);
}

TEST(Timeline, IsEverKnown) {
  EXPECT_FALSE(timeline(kF, {}).ever_known());
  EXPECT_FALSE(timeline(kF, {{5, kU}}).ever_known());
  EXPECT_TRUE(timeline(kU, {{5, kU}, {6, kF}}).ever_known());
  Timeline doubtful(kU);
  doubtful.add({.at = {}, .value = kU, .why_unknown = Reason::kNoData, .doubtful = true});
  EXPECT_TRUE(doubtful.ever_known());
}

TEST(Timeline, AppendsTheLastOfAnInstant) {
  Timeline fact(kF);
  const auto append = [&](int64_t us, Tri value) {
    Change change{.at = {}, .value = value};
    change.at.time_us = us;
    fact.append(change);
    return tell(fact);
  };
  EXPECT_EQ(append(1, kT), "F 0.000001T");
  EXPECT_EQ(append(1, kF), "F 0.000001F");
  EXPECT_EQ(append(2, kT), "F 0.000001F 0.000002T");
  EXPECT_EQ(append(3, kT), "F 0.000001F 0.000002T");
  EXPECT_EQ(append(4, kU), "F 0.000001F 0.000002T 0.000004U");
  EXPECT_EQ(append(4, kT), "F 0.000001F 0.000002T");
  EXPECT_EQ(append(3, kF), "F 0.000001F 0.000002T 0.000003F");
}

TEST(Timeline, PutsChangesInOrderAndMergesNeighbours) {
  const auto normal = [](Tri initial, const std::vector<Point>& points) {
    Timeline fact = timeline(initial, points);
    fact.normalize();
    return tell(fact);
  };
  EXPECT_EQ(normal(kF, {{5, kF}, {3, kT}}), "F 0.000003#1T 0.000005#0F");
  EXPECT_EQ(normal(kF, {{3, kF}, {4, kF}, {5, kT}, {6, kT}}),
            "F 0.000003#0F 0.000005#2T");  // The first says: named.
  EXPECT_EQ(normal(kF, {{3, kT}, {3, kF}}), "F 0.000003#1F");
  EXPECT_EQ(normal(kT, {{3, kF}, {3, kT}}), "T 0.000003#1T");
  EXPECT_EQ(normal(kF, {{1, kT}, {3, kF}, {3, kT}, {4, kT}, {5, kF}}), "F 0.000001#0T 0.000005#4F");
  // A clock that stepped back only makes two look as if they were one instant's.
  EXPECT_EQ(normal(kF, {{3, kT, 1}, {3, kF}}), "F 0.000003+0.000001#0T 0.000003#1F");
  EXPECT_EQ(normal(kF, {{3, kT}, {3, kF, 1}}), "F 0.000003#0T 0.000003+0.000001#1F");
  EXPECT_EQ(normal(kF, {{3, kT, 1}, {4, kT, 1}, {4, kF}}), "F 0.000003+0.000001#0T 0.000004#2F");
  Timeline early(kF);
  for (const Tri value : {kT, kF}) early.add({.at = {.time_us = 3, .early_us = 1}, .value = value});
  early.normalize();
  EXPECT_EQ(tell(early), "F 0.000003-0.000001F");
}

TEST(Timeline, JoinsTwoByKleenesTables) {
  const Timeline a = timeline(kF, {{1, kT}, {5, kF}, {9, kT}}),
                 b = timeline(kT, {{3, kF}, {4, kT}, {7, kF}, {9, kT}});
  EXPECT_EQ(tell(timeline_and(a, b)),
            "F 0.000001#0T 0.000003#0F 0.000004#1T 0.000005#1F 0.000009#3T");
  EXPECT_EQ(tell(timeline_and(b, a)),
            "F 0.000001#0T 0.000003#0F 0.000004#1T 0.000005#1F 0.000009#2T");
  EXPECT_EQ(tell(timeline_or(a, b)), "T 0.000001#0T 0.000007#2F 0.000009#3T");
  EXPECT_EQ(tell(timeline_or(b, a)), "T 0.000001#0T 0.000007#2F 0.000009#2T");
  EXPECT_EQ(tell(timeline_not(timeline(kU, {{1, kT}, {2, kF}, {3, kU}}))),
            "U 0.000001#0F 0.000002#1T 0.000003#2U");
  EXPECT_EQ(tell(timeline_not(Timeline(kF))), "T");
  EXPECT_EQ(tell(timeline_and(Timeline(kT), Timeline(kU))), "U");
  EXPECT_EQ(tell(timeline_or(Timeline(kT), Timeline(kU))), "T");
  EXPECT_EQ(tell(timeline_and(Timeline(kT), timeline(kF, {{2, kT}}))), "F 0.000002#0T");
  EXPECT_EQ(tell(timeline_and(timeline(kF, {{2, kT}}), Timeline(kT))), "F 0.000002#0T");
}

TEST(Timeline, SaysWhyWhatIsJoinedIsUnknown) {
  const Timeline gap = timeline(kF, {{1, kU, 0, Reason::kClockDoubt}}),
                 on = timeline(kF, {{2, kT}, {3, kF}});
  EXPECT_EQ(tell(timeline_and(gap, on)),
            "F 0.000001#0F(clock_doubt) 0.000002#0U(clock_doubt) 0.000003#1F");
  EXPECT_EQ(tell(timeline_and(on, gap)),
            "F 0.000001#0F(clock_doubt) 0.000002#0U(clock_doubt) 0.000003#1F");
  // Its own reason before the other's.
  const Timeline both = timeline(kF, {{2, kU, 0, Reason::kCutShort}});
  EXPECT_EQ(tell(timeline_or(gap, both)), "F 0.000001#0U(clock_doubt)");
  EXPECT_EQ(tell(timeline_or(timeline(kT, {{1, kU, 0, Reason::kClockDoubt}}),
                             timeline(kT, {{2, kU, 0, Reason::kCutShort}}))),
            "T 0.000001#0T(clock_doubt) 0.000002#0U(cut_short)");
}

std::string steady(Tri initial, const std::vector<Point>& points) {
  return tell(timeline(initial, points).debounced(500));
}

TEST(Debounced, TakesWhatDoesNotLastForNone) {
  EXPECT_EQ(steady(kF, {}), "F");
  EXPECT_EQ(steady(kF, {{0, kT}, {500, kF}}), "F 0#0T 0.0005#1F");
  EXPECT_EQ(steady(kF, {{0, kT}, {499, kF}}), "F 0.000499#1F");
  EXPECT_EQ(steady(kT, {{0, kF}, {499, kT}}), "T 0.000499#1T");
  EXPECT_EQ(steady(kF, {{0, kT}, {1000, kF}, {1499, kT}, {3000, kF}}), "F 0#0T 0.003#3F");
  EXPECT_EQ(steady(kF, {{0, kT}, {1000, kF}, {1500, kT}}), "F 0#0T 0.001#1F 0.0015#2T");
}

TEST(Debounced, DatesWhatLastsAtItsFirstEdge) {
  EXPECT_EQ(steady(kF, {{0, kT}, {100, kF}, {200, kT}}), "F 0#0T");
  EXPECT_EQ(steady(kF, {{0, kT}, {1000, kF}, {1100, kT}, {1200, kF}}), "F 0#0T 0.001#1F");
  EXPECT_EQ(steady(kF, {{0, kT}, {1000, kF}, {1100, kT}, {1700, kF}, {1800, kT}, {1900, kF}}),
            "F 0#0T 0.0017#3F");
  EXPECT_EQ(steady(kF, {{0, kF}, {100, kT}, {200, kF}, {800, kT}}), "F 0#0F 0.0008#3T");
}

TEST(Debounced, DoubtsWhatAStepBackOfAClockMayHaveCutShort) {
  // Sure to last 500, sure not to, or neither: 600 less or more than the step.
  EXPECT_EQ(steady(kF, {{0, kT, 100}, {600, kF}}), "F 0+0.0001#0T 0.0006#1F");
  EXPECT_EQ(steady(kF, {{0, kT, 101}, {600, kF}}), "F 0U(clock_doubt)! 0.0006#1F");
  EXPECT_EQ(steady(kF, {{0, kT}, {600, kF, 100}}), "F 0#0T 0.0006+0.0001#1F");
  EXPECT_EQ(steady(kF, {{0, kT}, {600, kF, 101}}),
            "F 0U(clock_doubt)! 0.000701#1F");  // Known once it surely has come.
  EXPECT_EQ(steady(kF, {{0, kT, 10}, {489, kF}}), "F 0.000489#1F");
  EXPECT_EQ(steady(kF, {{0, kT, 11}, {489, kF}}), "F 0U(clock_doubt)! 0.000489#1F");
  EXPECT_EQ(steady(kF, {{0, kT}, {489, kF, 10}}), "F 0.000489+0.00001#1F");
  EXPECT_EQ(steady(kF, {{0, kT}, {489, kF, 11}}), "F 0U(clock_doubt)! 0.0005#1F");
  EXPECT_EQ(steady(kF, {{0, kT, 5}, {489, kF, 6}}), "F 0U(clock_doubt)! 0.000495#1F");
  // What holds anyway is not in doubt.
  EXPECT_EQ(steady(kF, {{0, kF, 1000}, {600, kT}}), "F 0.0006#1T");
  EXPECT_EQ(steady(kF, {{0, kF, 1000}, {600, kT, 20}}), "F 0.0006+0.00002#1T");
  EXPECT_EQ(steady(kU, {{0, kT, 1000}, {600, kF}}), "U 0U(clock_doubt)! 0.0006#1F");
  EXPECT_EQ(steady(kU, {{5, kT, 100}}), "U 0.000005+0.0001#0T");
}

TEST(Debounced, DoubtsWhatAGapFollowsAtOnce) {
  const Reason why = Reason::kNoData;
  EXPECT_EQ(steady(kF, {{0, kU, 0, why}, {1000, kT}}), "F 0U(no_data) 0.001#1T");
  EXPECT_EQ(steady(kU, {{0, kU, 0, why}, {1000, kT}}), "U 0U(no_data) 0.001#1T");
  EXPECT_EQ(steady(kF, {{0, kT}, {1000, kU, 0, why}, {1100, kF}}),
            "F 0#0T 0.001U(no_data) 0.0011#2F");
  // Off for less than 500 and then a gap: it may have lasted or not.
  EXPECT_EQ(steady(kF, {{0, kT}, {1000, kF}, {1100, kU, 0, why}}), "F 0#0T 0.001U(no_data)!");
  EXPECT_EQ(steady(kF, {{0, kT}, {100, kU, 0, why}}), "F 0U(no_data)!");
  EXPECT_EQ(steady(kF, {{0, kF}, {100, kU, 0, why}}), "F 0.0001U(no_data)");
  // Unknown stays so once.
  EXPECT_EQ(steady(kF, {{0, kU, 0, why}, {1000, kT}, {1100, kU, 0, Reason::kCutShort}}),
            "F 0U(no_data)");
  EXPECT_EQ(steady(kF, {{0, kU, 0, why}, {1000, kT}, {1100, kU, 0, why}, {1200, kF}}),
            "F 0U(no_data) 0.0012#3F");
  EXPECT_EQ(steady(kF, {{0, kU, 0, why}, {1000, kT, 300}}), "F 0U(no_data) 0.0013#1T");
  // One that may not have lasted dates none that comes later.
  EXPECT_EQ(steady(kF, {{0, kU, 0, why}, {1000, kT, 300}, {1600, kF}, {1700, kT}}),
            "F 0U(no_data) 0.0017#3T");
  EXPECT_EQ(steady(kF, {{0, kT}, {1000, kU, 0, why}, {1100, kT}}),
            "F 0#0T 0.001U(no_data) 0.0011#2T");
}

TEST(Timeline, CountsWhatNobodyNamedAsFalse) {
  EXPECT_EQ(tell(timeline(kU, {{1, kU}, {2, kT}}).as_input()), "F 0.000001#0U 0.000002#1T");
  EXPECT_EQ(tell(Timeline(kT).as_input()), "T");
  EXPECT_EQ(tell(Timeline(kF).as_input()), "F");
}

TEST(Timeline, SaysWhereAndWhyItIsUnknown) {
  const Timeline fact = timeline(kF, {{5, kT}, {10, kU, 0, Reason::kCutShort}, {20, kF}, {30, kU}});
  EXPECT_EQ(fact.unknown_reason(0, 10), Reason::kNone);
  EXPECT_FALSE(fact.unknown_within(0, 10));
  EXPECT_EQ(fact.unknown_reason(0, 11), Reason::kCutShort);
  EXPECT_TRUE(fact.unknown_within(0, 11));
  EXPECT_EQ(fact.unknown_reason(10, 11), Reason::kCutShort);
  EXPECT_EQ(fact.unknown_reason(19, 19), Reason::kCutShort);
  EXPECT_EQ(fact.unknown_reason(20, 30), Reason::kNone);
  EXPECT_EQ(fact.unknown_reason(20, 31), Reason::kNoData);
  EXPECT_EQ(fact.unknown_reason(40, 41), Reason::kNoData);
  EXPECT_EQ(timeline(kU, {{5, kT}}).unknown_reason(4, 5), Reason::kNoData);
  EXPECT_EQ(timeline(kU, {{5, kT}}).unknown_reason(5, 9), Reason::kNone);
  EXPECT_EQ(Timeline(kF).unknown_reason(0, 9), Reason::kNone);
  // Two that a clock's step back put at one instant: what holds from there on counts.
  EXPECT_EQ(timeline(kF, {{5, kU, 0, Reason::kCutShort}, {5, kT}}).unknown_reason(5, 9),
            Reason::kNone);
}

}  // namespace
}  // namespace fairlead::judge
