// Phases of a job and handlings (judging.md 3, vocabulary.md 2): where they open and close, and
// what keeps that open.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "tests/unit/judge/facts/facts_kit.h"

namespace fairlead::judge {
namespace {

std::string phase(const std::string& opens, const std::string& closes, const std::string& more = "",
                  const std::string& id = "p") {
  return fmt::format("phase {{ id: \"{}\" opens: \"{}\" closes: \"{}\" longest: \"10 min\" {} }}\n",
                     id, opens, closes, more);
}
const std::string kSet = phase("scene.set.on", "scene.set.off");

TEST(Phases, LastFromTheirOpeningToTheirClosing) {
  Job job({opened(), op(10, 2, scene(true)), op(20, 3, scene(false)), op(30, 4, scene(true)),
           op(40, 5, scene(false)), closed(s(60), 6)},
          kSet);
  EXPECT_EQ(job.stays("p"), "10#1-20#2 30#3-40#4");
  EXPECT_EQ(job.fact("phase:p"), "F 10#1T 20#2F 30#3T 40#4F");
  EXPECT_EQ(job.events("phase:p.on"), "10#1 30#3");
  EXPECT_EQ(job.events("phase:p.off"), "20#2 40#4");
  EXPECT_EQ(job.stays("job"), "0#0-60#5");
  EXPECT_EQ(job.stays("nobody"), "");
  EXPECT_EQ(job.stays("handling"), "");
  EXPECT_EQ(job.fact("handling"), "F");
  // Open until the end of the job, or of what is known.
  EXPECT_EQ(Job({opened(), op(10, 2, scene(true)), closed(s(60), 3)}, kSet).stays("p"),
            "10#1-60#2");
  Job running({opened(), op(10, 2, scene(true)), op(50, 3, kNote)}, kSet);
  EXPECT_EQ(running.stays("p"), "10#1-50...");
  EXPECT_EQ(running.stays("job"), "0#0-50...");
  EXPECT_EQ(running.fact("phase:p"), "F 10#1T");
  EXPECT_EQ(Job({line(5, "desk", 1, kNote)}, kSet, "", "").stays("job"), "");
}

TEST(Phases, OpenOnceAndCloseOnce) {
  const std::string marks = phase("arrived", "note");
  Job job({opened(), op(5.5, 2, kNote), op(12, 3, kArrived), op(20, 4, kArrived), op(30, 5, kNote),
           op(40, 6, kNote), op(50, 7, kArrived), closed(s(60), 8)},
          marks);
  EXPECT_EQ(job.stays("p"), "12#2-30#4 50#6-60#7");
  // At one instant one stay closes before the next opens.
  Job same({opened(), op(12, 2, kArrived), line(30, "a", 1, kArrived), line(30, "b", 1, kNote),
            closed(s(60), 3)},
           marks);
  EXPECT_EQ(same.stays("p"), "12#1-30#3m 30#2m-60#4");
  Job first({opened(), line(30, "a", 1, kArrived), line(30, "b", 1, kNote), closed(s(60), 2)},
            marks);
  EXPECT_EQ(first.stays("p"), "30#1m-60#3");
  // Of several at one instant the first in order.
  Job twice({opened(), line(12, "a", 1, kArrived), line(12, "b", 1, kArrived),
             line(30, "a", 2, kNote), line(30, "b", 2, kNote), closed(s(60), 2)},
            marks);
  EXPECT_EQ(twice.stays("p"), "12#1m-30#3m");
}

TEST(Phases, AreNoneAfterTheEndOfTheJob) {
  const std::string marks = phase("arrived", "note");
  const auto by_own = [](double second, uint32_t seq, const std::string& kind) {
    return line(second, "c", seq, kind, R"("clock":"own")");
  };
  EXPECT_EQ(Job({opened(), closed(s(60), 2), by_own(60, 1, kArrived), by_own(70, 2, kNote)}, marks)
                .stays("p"),
            "60@1(?)#1m-60#2");
  EXPECT_EQ(
      Job({opened(), closed(s(60), 2), by_own(60.000001, 1, kArrived), by_own(70, 2, kNote)}, marks)
          .stays("p"),
      "");
  EXPECT_EQ(Job({opened(), closed(s(60), 2), by_own(50, 1, kArrived), by_own(60, 2, kNote)}, marks)
                .stays("p"),
            "50@1(?)#1m-60@1(?)#2m");
  EXPECT_EQ(
      Job({opened(), closed(s(60), 2), by_own(50, 1, kArrived), by_own(60.000001, 2, kNote)}, marks)
          .stays("p"),
      "50@1(?)#1m-60#2");
}

TEST(Phases, SettleWhatDoesNotLast) {
  const auto debounced = [](const std::vector<double>& times, const std::string& more) {
    Lines lines{opened()};
    uint32_t seq = 1;
    for (size_t i = 0; i < times.size(); ++i)
      lines.push_back(line(times[i], "box", seq++, i % 2 == 0 ? kArrived : kNote));
    lines.push_back(closed(s(60), 2));
    return Job(lines, phase("arrived", "note", more)).stays("p");
  };
  EXPECT_EQ(debounced({10, 12, 20, 30}, "debounce: \"2 s\""), "10#1m-12#2m 20#3m-30#4m");
  EXPECT_EQ(debounced({10, 11.999999, 20, 30}, "debounce: \"2 s\""), "20#3m-30#4m");
  EXPECT_EQ(debounced({10, 20, 21.999999, 30}, "debounce: \"2 s\""), "10#1m-30#4m");
  EXPECT_EQ(debounced({10, 20, 22, 30}, "debounce: \"2 s\""), "10#1m-20#2m 22#3m-30#4m");
  EXPECT_EQ(debounced({10, 20, 20, 20.5}, "debounce: \"2 s\""),
            "10#1m-20.5#4m");  // A break of no time at all is none.
  EXPECT_EQ(debounced({10, 11, 12, 20}, "debounce: \"2 s\""), "10#1m-20#4m");
  EXPECT_EQ(debounced({10, 10.000001, 20, 30}, ""), "10#1m-10.000001#2m 20#3m-30#4m");
  EXPECT_EQ(debounced({10, 10.000001, 20, 30}, "debounce: \"0.000001 s\""),
            "10#1m-10.000001#2m 20#3m-30#4m");
  EXPECT_EQ(debounced({10, 10.000001, 20, 30}, "debounce: \"0.000002 s\""), "20#3m-30#4m");
  EXPECT_EQ(debounced({10}, "debounce: \"2 s\""), "10#1m-60#2");
  EXPECT_EQ(debounced({}, "debounce: \"2 s\""), "");
}

TEST(Phases, SettleWhatAStepBackOfAClockBlurs) {
  // The note is shown 0.1 s before the arrival, and numbered after it.
  const auto blurred = [](const std::string& more) {
    const Lines lines{opened(), line(10, "box", 1, kArrived),
                      line(10.5, "box", 2, R"("anchor":{"words":"-"})"), line(9.9, "box", 3, kNote),
                      closed(s(60), 2)};
    return Job(lines, phase("arrived", "note", more)).stays("p");
  };
  EXPECT_EQ(blurred(""), "10#1m-10.5-0.6+0.6#3m");
  EXPECT_EQ(blurred("debounce: \"0.000001 s\""), "");
}

TEST(Phases, ThatNobodySawCloseMayHaveClosedEarlier) {
  // The operator's line of 30 to 50 is lost and nobody names the fact again.
  Job lost({opened(), op(10, 2, scene(true)), op(30, 3, kNote), op(50, 5, kNote), closed(s(60), 6)},
           kSet);
  EXPECT_EQ(lost.stays("p"), "10#1-60-29.999999#4");
  Job after({opened(), op(10, 2, kNote), op(20, 4, kNote), op(30, 5, kArrived), closed(s(60), 6)},
            phase("arrived", "scene.set.off"));
  EXPECT_EQ(after.stays("p"),
            "30#3-60-30#4");  // Unknown since before it opened: no earlier than that.
  Job again({opened(), op(10, 2, kNote), op(20, 4, kNote), op(30, 5, scene(true)), op(40, 6, kNote),
             op(45, 8, kNote), closed(s(60), 9)},
            kSet);
  EXPECT_EQ(again.stays("p"), "30-19.999999#3-60-19.999999#6");
  Job known(
      {opened(), op(10, 2, kNote), op(20, 4, kNote), op(30, 5, scene(true)), closed(s(60), 6)},
      kSet);
  EXPECT_EQ(known.stays("p"), "30-19.999999#3-60#4");
  Job twice({opened(), op(10, 2, scene(true)), op(20, 3, kNote), op(25, 5, kNote), op(30, 6, kNote),
             op(35, 8, kNote), closed(s(60), 9)},
            kSet);
  EXPECT_EQ(twice.stays("p"), "10#1-60-39.999999#6");
  // What only the end of the job closes, or an event: nothing is hidden of a fact.
  EXPECT_EQ(
      Job({opened(), op(10, 2, kArrived), op(30, 3, kNote), op(50, 5, kNote), closed(s(60), 6)},
          phase("arrived", "found"))
          .stays("p"),
      "10#1-60#4");
  Job last(
      {opened(), op(10, 2, kNote), op(20, 4, kNote), line(60, "z", 1, kArrived), closed(s(60), 5)},
      phase("arrived", "scene.set.off"));
  EXPECT_EQ(last.stays("p"), "60#4m-60#3");
  // What a clock says of which nothing is known comes after the end as it is shown.
  Job later({opened(), op(10, 2, scene(true)), op(30, 3, kNote), op(50, 5, kNote), closed(s(60), 6),
             line(70, "c", 1, scene(true), R"("clock":"own")")},
            kSet);
  EXPECT_EQ(later.stays("p"), "10#1-60-29.999999#4");
  // Unknown only from the end on.
  Job at_end({opened(), op(10, 2, scene(true)), closed(s(60), 3), op(70, 5, kNote)}, kSet);
  EXPECT_EQ(at_end.stays("p"), "10#1-60#2");
  Job before_end({opened(), op(10, 2, scene(true)), op(59.999998, 3, kNote), closed(s(60), 5)},
                 kSet);
  EXPECT_EQ(before_end.stays("p"), "10#1-60-0.000001#3");
  Job just({opened(), op(10, 2, scene(true)), op(59.999999, 3, kNote), closed(s(60), 5)}, kSet);
  EXPECT_EQ(just.stays("p"), "10#1-60#3");
}

TEST(Phases, MayCloseWhereALineIsLost) {
  const auto may_close = [](const Lines& lines, const std::string& closes,
                            const std::string& outer_closes = "") {
    const std::string outer =
        outer_closes.empty() ? "" : phase("opened", outer_closes, "", "outer");
    Job job(lines, phase("arrived", closes) + outer);
    const auto found = job.state->facts.may_close("p", outer_closes.empty() ? "" : "outer",
                                                  job.state->facts.phase("p").at(0));
    return found ? told(std::vector{*found}) : "never";
  };
  const Lines lost{opened(), op(10, 2, kArrived), op(30, 3, kNote), op(50, 5, kNote),
                   closed(s(60), 6)};
  EXPECT_EQ(may_close(lost, "found"), "30.000001-50 no_data;");
  EXPECT_EQ(may_close(lost, "closed"), "never");
  EXPECT_EQ(may_close(lost, "abandoned"), "never");
  EXPECT_EQ(may_close(lost, "closed", "found"), "30.000001-50 no_data;");
  EXPECT_EQ(may_close(lost, "found", "closed"), "30.000001-50 no_data;");
  EXPECT_EQ(may_close(lost, "closed", "closed"), "never");
  // From one instant on: the stay's own.
  const Lines both{opened(),
                   op(3, 2, scene(true)),
                   op(4, 3, R"("smoke":{"seen":true})"),
                   op(10, 4, kArrived),
                   op(30, 5, kNote),
                   op(50, 7, kNote),
                   op(55, 8, scene(true)),
                   closed(s(60), 9)};
  EXPECT_EQ(may_close(both, "scene.set.off", "smoke.off"), "30.000001-55 no_data;");
  EXPECT_EQ(may_close(both, "smoke.off", "scene.set.off"), "30.000001-60 no_data;");
  // Before it opened, after it closed, over its opening.
  EXPECT_EQ(
      may_close({opened(), op(6, 2, kNote), op(8, 4, kNote), op(20, 5, kArrived), closed(s(60), 6)},
                "found"),
      "never");
  EXPECT_EQ(may_close({opened(), op(6, 2, kNote), op(20, 4, kNote), line(20, "z", 1, kArrived),
                       closed(s(60), 5)},
                      "found"),
            "never");
  // What closes at the instant of an opening comes before it.
  EXPECT_EQ(may_close({opened(), op(6, 2, kNote), op(20.000001, 4, kNote),
                       line(20, "z", 1, kArrived), closed(s(60), 5)},
                      "found"),
            "never");
  EXPECT_EQ(may_close({opened(), op(6, 2, kNote), op(20.000002, 4, kNote),
                       line(20, "z", 1, kArrived), closed(s(60), 5)},
                      "found"),
            "20-20.000002 no_data;");
  EXPECT_EQ(may_close({opened(), op(6, 2, kArrived), op(20, 3, kNote), op(20.000001, 5, kNote),
                       line(20.000001, "z", 1, R"("anchor":{"words":"-"})"), closed(s(60), 6)},
                      "anchor"),
            "never");
  EXPECT_EQ(may_close({opened(), op(6, 2, kArrived), op(20, 3, kNote), op(20.000002, 5, kNote),
                       line(20.000002, "z", 1, R"("anchor":{"words":"-"})"), closed(s(60), 6)},
                      "anchor"),
            "20.000001-20.000002 no_data;");
  // The first of several, of either phase.
  const Lines two{opened(),
                  line(4, "z", 1, R"("anchor":{"words":"-"})"),
                  line(5, "y", 1, R"("heat":{"celsius":20,"where":"-"})"),
                  op(10, 2, kArrived),
                  line(20, "y", 2, kNote),
                  line(50, "y", 4, kNote),
                  line(41, "z", 2, kNote),
                  line(45, "z", 4, kNote),
                  closed(s(60), 3)};
  EXPECT_EQ(may_close(two, "anchor", "heat"), "20.000001-50 no_data;");
  EXPECT_EQ(may_close(two, "heat", "anchor"), "20.000001-50 no_data;");
}

TEST(Phases, AreAskedForByTheirOpeningEvent) {
  Job job({opened(), closed(s(60), 2)}, kSet);
  EXPECT_EQ(job.state->facts.opener("p"), "scene.set.on");
  EXPECT_EQ(job.state->facts.opener("job"), "opened");
  EXPECT_EQ(job.state->facts.opener("handling"), "rigging.on");
  EXPECT_EQ(job.state->facts.opener("nobody"), "");
}

TEST(Phases, AreOfTheProcedureInForce) {
  Job job({opened(), op(10, 2, scene(true)), op(20, 3, scene(false)), op(30, 4, kArrived),
           closed(s(60), 5)},
          kSet);
  EXPECT_EQ(job.stays("p") + job.fact("phase:p") + job.events("phase:p.on"),
            "10#1-20#2F 10#1T 20#2F10#1");
  Job other({opened()}, phase("arrived", "closed"));
  job.state->facts.use(other.rules.content().procedures.front());
  EXPECT_EQ(job.stays("p") + job.fact("phase:p") + job.events("phase:p.on"),
            "30#3-60#4F 30#3T 60#4F30#3");
}

TEST(Spans, AreSureFromTheLatestOpeningToTheEarliestClosing) {
  PhaseSpan span;
  span.open = {.time_us = 100, .early_us = 1, .late_us = 2};
  span.close = {.time_us = 200, .early_us = 4, .late_us = 8};
  EXPECT_EQ(span.surely_from(), 102);
  EXPECT_EQ(span.surely_to(), 196);
  EXPECT_EQ(span.possibly_from(), 99);
  EXPECT_EQ(span.possibly_to(), 208);
}

TEST(Handlings, LastFromRiggingToRiggingOffOrAllOnTheDeck) {
  EXPECT_EQ(Job({opened(), op(10, 2, rigging(true)), op(20, 3, rigging(false)),
                 op(30, 4, rigging(true)), closed(s(60), 5)})
                .stays("handling"),
            "10#1-20#2 30#3-60#4");
  EXPECT_EQ(Job({opened(), op(10, 2, rigging(true)), op(20, 3, wheels("ALL", "DECK")),
                 op(30, 4, rigging(false)), closed(s(60), 5)})
                .stays("handling"),
            "10#1-20#2");
  EXPECT_EQ(Job({opened(), op(10, 2, rigging(true)), op(20, 3, wheels("ALL", "DECK")),
                 op(30, 4, rigging(false)), closed(s(60), 5)})
                .fact("handling"),
            "F 10#1T 20#2F");
  // Not while it may roll freely or the deck moves.
  EXPECT_EQ(Job({opened(), op(10, 2, mode("ROLLING")), op(20, 3, wheels("ALL", "DECK")),
                 op(30, 4, mode("PARKED")), closed(s(60), 5)})
                .stays("handling"),
            "10#1-30#3");
  EXPECT_EQ(Job({opened(), op(10, 2, rigging(true)), op(15, 3, R"("deck":{"moving":true})"),
                 op(20, 4, wheels("ALL", "DECK")), op(30, 5, R"("deck":{"moving":false})"),
                 closed(s(60), 6)})
                .stays("handling"),
            "10#1-30#4");
  Lines pulled{opened(), closed(s(60), 2)};
  for (uint32_t i = 1; i < 20; ++i)
    pulled.push_back(sampled(s(10 + i), "line", i, "line.pull", i < 5 ? 50 : 900));
  EXPECT_EQ(Job(pulled).stays("handling"), "15#5m-60#20");
  // From the first of them on, once.
  EXPECT_EQ(Job({opened(), op(10, 2, mode("ROLLING")), op(20, 3, rigging(true)),
                 op(30, 4, rigging(false)), closed(s(60), 5)})
                .stays("handling"),
            "10#1-30#3");
}

}  // namespace
}  // namespace fairlead::judge
