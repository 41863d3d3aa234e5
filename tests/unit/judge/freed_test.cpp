// Where a rule is freed, or holds for a while only: every form with the `unless`, or an end of its
// while_phase, just before, at and just after the instant that decides.
//
// `unless` frees what was not decided before it; what comes at one instant with it stands. A stay
// has its first instant and not its last.
#include <gtest/gtest.h>

#include "tests/unit/judge/word_lines.h"

namespace fairlead::judge {
namespace {

const std::string kDeck =
    "phase { id: \"deck\" opens: \"wheels.on_deck.on\" closes: \"wheels.on_deck.off\" "
    "longest: \"1 h\" }\n";

std::string ready(bool confirmed) {
  return std::string(R"("driveReady":{"confirmed":)") + (confirmed ? "true}" : "false}");
}

std::string told_of(const std::string& form, const Said& words, double end = 200) {
  return told(judged_form(form, lines_of(words, end), kSet + kDeck));
}

// A job that deviates: what was to be judged begins at one instant and is decided at another.
struct Job {
  std::string form;
  Said words;
  double begins, decided;
  const char* deviates;
};

const std::vector<Job> kJobs{
    {"comes_first { first: \"arrived\" then: \"secured.checked\" }",
     {{50, "desk", kChecked}},
     50,
     50,
     "deviated - - - s"},
    {"comes_first { first: \"scene.set.on\" then: \"secured.checked\" }",
     {{50, "desk", kChecked}, {55, "desk", scene(true)}},
     50,
     50,
     "deviated -5 -5 -5 s"},
    {"follows_within { after: \"arrived\" then: \"secured.checked\" within: \"10 s\" }",
     {{30, "desk", kArrived}},
     30,
     40,
     "deviated - - -160 s"},
    {"follows_within { after: \"arrived\" then: \"secured.checked\" within: \"10 s\" }",
     {{30, "desk", kArrived}, {60, "desk", kChecked}},
     30,
     40,
     "deviated -20 -20 -20 s"},
    {"stays_until { state: \"scene.set\" until: \"arrived\" at_least: \"20 s\" }",
     {{30, "desk", scene(true)}, {40, "desk", kArrived}},
     30,
     40,
     "deviated -10 -10 -10 s"},
    {"wait_between { from: \"arrived\" to: \"secured.checked\" at_least: \"20 s\" }",
     {{30, "desk", kArrived}, {40, "desk", kChecked}},
     40,
     40,
     "deviated -10 -10 -10 s"},
    {"evidence_present { item: \"secured.checked\" at_least: 1 before: \"arrived\" }",
     {{40, "desk", kArrived}},
     40,
     40,
     "deviated -1 -1 -1 items"},
    {"evidence_present { item: \"secured.checked\" at_least: 1 after: \"arrived\" }",
     {{40, "desk", kArrived}},
     40,
     40,
     "deviated -1 -1 -1 items"},
    {"sources_agree { phase: \"job\" claim: \"scene.set.on\" with: \"drive.ready.on\" within: "
     "\"3 s\" }",
     {{5, "panel", ready(false)}, {30, "desk", scene(true)}},
     30,
     30,
     "deviated - - - s"},
};

TEST(Freed, OnlyByWhatCameBeforeItWasDecided) {
  for (const Job& job : kJobs) {
    const auto freed = [&](double second) {
      Said words = job.words;
      words.push_back({second, "switch", screen(true)});
      return told_of(job.form + " unless: \"screen.awake.on\"", words);
    };
    EXPECT_EQ(freed(2), "no") << job.form;
    EXPECT_EQ(freed(job.decided - kMicro), "no") << job.form;
    EXPECT_EQ(freed(job.decided), job.deviates) << job.form;
    EXPECT_EQ(freed(job.decided + kMicro), job.deviates) << job.form;
  }
}

// The line lost may have been the one that frees: nobody knows then, if that was before.
TEST(Freed, ByWhatMayHide) {
  for (const Job& job : kJobs) {
    const auto lost_after = [&](double second) {
      Said words = job.words;
      words.insert(words.end(), {{1, "switch", screen(false)},
                                 {second, "switch", kHere},
                                 {second + 1, "switch", kLost},
                                 {150, "switch", kHere}});
      return told_of(job.form + " unless: \"screen.awake.on\"", words);
    };
    EXPECT_EQ(lost_after(job.decided - 2 * kMicro).substr(0, 17), "unproven(no_data)") << job.form;
    EXPECT_EQ(lost_after(job.decided), job.deviates) << job.form;
  }
}

TEST(Freed, NothingHidesAfterIt) {
  // All that the rule is about may hide in what the desk lost; it frees the rule in its last word.
  for (const Job& job : kJobs) {
    const auto lost = [&](const char* by) {
      return told_of(job.form + " unless: \"screen.awake.on\"", {{1, "desk", scene(false)},
                                                                 {2, "switch", screen(false)},
                                                                 {20, by, screen(true)},
                                                                 {19, "desk", kHere},
                                                                 {20, "desk", kHere},
                                                                 {21, "desk", kLost},
                                                                 {60, "desk", kHere}});
    };
    EXPECT_EQ(lost("switch"), "no") << job.form;
  }
}

TEST(ForAWhile, HasItsFirstInstantAndNotItsLast) {
  for (const Job& job : kJobs) {
    if (job.form.starts_with("sources_agree")) continue;
    const auto within = [&](double from, double to) {
      Said words = job.words;
      words.insert(words.end(),
                   {{from, "switch", wheels("DECK")}, {to, "switch", wheels("GROUND")}});
      return told_of(job.form + " while_phase: \"deck\"", words);
    };
    const double t = job.begins;
    EXPECT_EQ(within(t - kMicro, 150), job.deviates) << job.form;
    EXPECT_EQ(within(t, 150), job.deviates) << job.form;
    EXPECT_EQ(within(t + kMicro, 150), "no") << job.form;
    EXPECT_EQ(within(1, t - kMicro), "no") << job.form;
    EXPECT_EQ(within(1, t), "no") << job.form;
    EXPECT_EQ(within(1, t + kMicro), job.deviates) << job.form;
  }
}

// A line lost in the while, of the source that would end it: what accuses before that stands.
TEST(ForAWhile, ThatMayHaveEnded) {
  for (const Job& job : kJobs) {
    if (job.form.starts_with("sources_agree")) continue;
    const auto lost_after = [&](double second) {
      Said words = job.words;
      words.insert(words.end(), {{1, "switch", wheels("DECK")},
                                 {second, "switch", kHere},
                                 {second + 1, "switch", kLost},
                                 {150, "switch", kHere}});
      return told_of(job.form + " while_phase: \"deck\"", words);
    };
    const double t = job.begins;
    EXPECT_EQ(lost_after(t), job.deviates) << job.form;
    EXPECT_EQ(lost_after(t - 2 * kMicro).substr(0, 17), "unproven(no_data)") << job.form;
    EXPECT_EQ(lost_after(t - 20).substr(0, 17), "unproven(no_data)") << job.form;
  }
}

}  // namespace
}  // namespace fairlead::judge
