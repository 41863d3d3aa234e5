// Due dates of a claim. The days (30, 120, every 60 after) are those of 49 CFR 370.5 and 370.9 as
// facts.md gives them; the calendar dates below were counted with date(1).
#include "daemon/desk/claim_clock.h"

#include <gtest/gtest.h>

#include "daemon/base/time_text.h"

namespace fairlead::desk {
namespace {

int64_t day(const char* text) { return *parse_date_us(text); }
using Kind = ClaimMoment::Kind;

std::string told(const std::vector<DueDate>& dates, int64_t now_us) {
  std::string out;
  for (const auto& date : dates) {
    out += day_text(date.due_us) + " " + date.origin +
           (date.done_us ? " done " + day_text(*date.done_us)
                         : " " + std::to_string(date.days_left(now_us))) +
           (date.overdue(now_us) ? " overdue" : "") + "\n";
  }
  return out;
}

TEST(ClaimClock, NoneHasNoDates) {
  EXPECT_TRUE(due_dates("none", day("2027-03-30"), {}, day("2028-03-30")).empty());
  EXPECT_FALSE(is_clock("30 days"));
}

TEST(ClaimClock, FreshClaimHasTwo) {
  const int64_t now = day("2027-03-31");
  // date -d '2027-03-30 +30 days' and '+120 days'.
  EXPECT_EQ(told(due_dates("49cfr370", day("2027-03-30"), {}, now), now),
            "2027-04-29 49 CFR 370.5 29\n2027-07-28 49 CFR 370.9(a) 119\n");
}

TEST(ClaimClock, TheDayItselfIsInTimeTheNextIsNot) {
  const auto last = due_dates("49cfr370", day("2027-03-30"), {}, day("2027-04-29") + 1);
  EXPECT_FALSE(last.front().overdue(day("2027-04-29") + 86'399'999'999));
  EXPECT_TRUE(last.front().overdue(day("2027-04-30")));
  EXPECT_EQ(last.front().days_left(day("2027-04-30")), -1);
}

TEST(ClaimClock, AnAnswerAcknowledgesAndEndsIt) {
  const int64_t now = day("2027-09-01");
  const std::vector<ClaimMoment> answered = {{Kind::kAnswer, day("2027-04-10")}};
  EXPECT_EQ(
      told(due_dates("49cfr370", day("2027-03-30"), answered, now), now),
      "2027-04-29 49 CFR 370.5 done 2027-04-10\n2027-07-28 49 CFR 370.9(a) done 2027-04-10\n");
}

TEST(ClaimClock, OpenClaimsAskForAWordAt120DaysAndEvery60) {
  const int64_t now = day("2027-10-10");
  const std::vector<ClaimMoment> told_once = {{Kind::kAcknowledged, day("2027-04-02")},
                                              {Kind::kStatus, day("2027-07-27")}};
  // date -d '2027-03-30 +180 days' is 2027-09-26, '+240 days' 2027-11-25.
  EXPECT_EQ(told(due_dates("49cfr370", day("2027-03-30"), told_once, now), now),
            "2027-04-29 49 CFR 370.5 done 2027-04-02\n"
            "2027-07-28 49 CFR 370.9(a) -74 overdue\n"
            "2027-07-28 49 CFR 370.9(b) done 2027-07-27\n"
            "2027-09-26 49 CFR 370.9(b) -14 overdue\n"
            "2027-11-25 49 CFR 370.9(b) 46\n");
}

TEST(ClaimClock, AWordOfTheSecondSpanDoesNotServeTheFirst) {
  const int64_t now = day("2027-09-01");
  const std::vector<ClaimMoment> late = {{Kind::kStatus, day("2027-08-15")}};
  EXPECT_EQ(told(due_dates("49cfr370", day("2027-03-30"), late, now), now),
            "2027-04-29 49 CFR 370.5 done 2027-08-15\n"
            "2027-07-28 49 CFR 370.9(a) -35 overdue\n"
            "2027-07-28 49 CFR 370.9(b) -35 overdue\n"
            "2027-09-26 49 CFR 370.9(b) done 2027-08-15\n");
}

}  // namespace
}  // namespace fairlead::desk
