// A job's lines made ready to be judged (judging.md 3, vocabulary.md 6): which count, what is
// believed, clocks, what is missing, what is taken back.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "tests/unit/judge/facts/facts_kit.h"

namespace fairlead::judge {
namespace {

v1::Observation of_job(v1::Observation line, const std::string& job) {
  line.set_job(job);
  return line;
}
v1::Observation with_time(v1::Observation line, const std::string& time) {
  line.set_time(time);
  return line;
}
v1::Observation note(int64_t second, const std::string& source, uint32_t seq,
                     const std::string& more = R"("clock":"truck")") {
  return said(second * kSecondUs, source, seq, kNote, more);
}

TEST(JobLines, AreOfTheJobThatOpensFirstHoweverItsTimeIsWritten) {
  const auto first = [](const Lines& lines) { return JobLines(lines, "").job(); };
  const auto a = with_time(of_job(opened(), "a"), "2026-03-02T11:00:00+01:00"),
             b = with_time(of_job(opened(), "b"), "2026-03-02T10:00:00.5Z");
  EXPECT_EQ(first({a, b}), "a");
  EXPECT_EQ(first({b, a}), "a");
  auto desk = of_job(opened(), "desk");
  desk.set_source("desk");
  EXPECT_EQ(first({of_job(opened(), "a"), desk}),
            "desk");  // Of one instant: by source, then number.
  EXPECT_EQ(first({of_job(opened(0, "", 2), "a"), of_job(opened(0, "", 1), "b")}), "b");
  EXPECT_EQ(first({of_job(opened(0, "", 1), "b"), of_job(opened(0, "", 2), "a")}), "b");
  EXPECT_EQ(first({of_job(note(-5, "desk", 1), "z"), of_job(opened(), "a")}), "a");
  EXPECT_EQ(first({note(0, "desk", 1)}), "");
  const Lines one{of_job(opened(), "b"), of_job(opened(1), "a")};
  EXPECT_EQ(JobLines(one, "a").job(), "a");
}

// Times of the samples of "line" that count.
std::string heard(Lines lines) {
  const JobLines job(lines, "j");
  std::string text;
  for (const JobLine& line : job.lines()) {
    if (line.read->kind == v1::Observation::kSample)
      text += seconds(line.stamp.time_us - kTen) + " ";
  }
  return text;
}
Lines with_samples(Lines lines, const std::string& job, const std::vector<int64_t>& times) {
  uint32_t seq = 0;
  for (const int64_t us : times)
    lines.push_back(of_job(sampled(us, "line", ++seq, "line.pull", 5), job));
  return lines;
}

TEST(JobLines, TakeWhatAnInstrumentShowedFromTenMinutesBeforeOn) {
  const int64_t before = -600'000'000, end = 50'000'000;
  const Lines closing{opened(), closed(end, 2)};
  EXPECT_EQ(heard(with_samples(closing, "", {before - 1, before, -1, 0, 1, end, end + 1})),
            "-600 -0.000001 0 0.000001 50 ");
  EXPECT_EQ(heard(with_samples(closing, "other", {before, -1, 0, 1, end, end + 1})),
            "0 0.000001 50 ");
  EXPECT_EQ(heard(with_samples(closing, "j", {before - 1, 0, end + 1})),
            "-600.000001 0 50.000001 ");
  EXPECT_EQ(heard(with_samples({opened()}, "", {before - 1, 0, end + 1})), "0 50.000001 ");
  EXPECT_EQ(heard(with_samples({opened(), said(end, "operator", 2, R"("abandoned":{"words":"-"})")},
                               "", {0, end, end + 1})),
            "0 50 ");
  // The first opening, the last end.
  EXPECT_EQ(heard(with_samples({opened(10), opened(20, "", 2), closed(30, 3), closed(40, 4)}, "o",
                               {9, 10, 20, 30, 40, 41})),
            "0.00001 0.00002 0.00003 0.00004 ");
  EXPECT_EQ(heard(with_samples({opened(20), opened(10, "", 2), closed(40, 3), closed(30, 4)}, "o",
                               {9, 10, 40, 41})),
            "0.00001 0.00004 ");
  const auto reopened = [](int64_t us, uint32_t seq) {
    return said(us, "operator", seq, R"("reopened":{})");
  };
  EXPECT_EQ(heard(with_samples({opened(), closed(30, 2), reopened(31, 3)}, "", {32})), "0.000032 ");
  EXPECT_EQ(heard(with_samples({opened(), closed(30, 2), reopened(30, 3)}, "", {32})), "0.000032 ");
  EXPECT_EQ(heard(with_samples({opened(), reopened(29, 2), closed(30, 3)}, "", {32})), "");
  EXPECT_EQ(
      heard(with_samples({opened(), closed(30, 2), reopened(31, 3), closed(40, 4)}, "", {32, 41})),
      "0.000032 ");
  EXPECT_EQ(heard(with_samples({}, "", {5})), "0.000005 ");  // Of a job that nobody opened.
  // Its own lines before the opening or after the end open and end nothing.
  EXPECT_EQ(heard(with_samples(
                {said(-5, "desk", 1, kNote), opened(), closed(40, 2), said(60, "desk", 2, kNote)},
                "o", {-3, 0, 40, 50})),
            "0 0.00004 ");
  // Another job's opening and end are not this one's.
  EXPECT_EQ(heard(with_samples({opened(10), closed(40, 2), of_job(opened(0, "", 3), "o"),
                                of_job(closed(50, 4), "o")},
                               "o", {9, 10, 40, 41})),
            "0.00001 0.00004 ");
}

TEST(JobLines, CountOfOtherJobsOnlyWhatTheTruckMeasured) {
  const Lines lines{
      opened(),
      of_job(sampled(1, "a", 1, "line.pull", 5), "o"),
      of_job(said(2, "gps.truck", 1,
                  R"("fix":{"latDeg":44,"lonDeg":-30,"speedMps":1,"hSdM":2,"mode":3})"),
             "o"),
      of_job(said(3, "c", 1, kAlive), "o"),
      of_job(said(4, "d", 1, R"("gap":{"channel":"d","cause":"-"})"), "o"),
      of_job(said(5, "e", 1, R"("clockOffset":{"clock":"x","offsetMs":1,"sdMs":1})"), "o"),
      of_job(said(6, "f", 1, R"("sensor":{"channel":"line.pull","state":"-"})"), "o"),
      of_job(note(7, "desk", 1), "o"),
      of_job(said(8, "clamp", 1, R"("clamp":{"lead":"POSITIVE","on":true,"at":"SOURCE"})"), "o"),
      closed(9'000'000, 2)};
  EXPECT_EQ(told(JobLines(lines, "j")),
            "operator:1@0 a:1@0.000001 gps.truck:1@0.000002 c:1@0.000003 d:1@0.000004 e:1@0.000005 "
            "f:1@0.000006 operator:2@9");
}

TEST(JobLines, StandInOrderOfTimeSourceAndNumber) {
  const Lines lines{closed(9'000'000, 5),   note(3, "desk", 2), note(3, "b", 1),
                    note(3, "a", 2),        note(3, "a", 1),    note(2, "operator", 3),
                    note(2, "operator", 2), opened(),           note(8, "operator", 4),
                    note(1, "desk", 1)};
  const std::string order =
      "operator:1@0 desk:1@1 operator:2@2 operator:3@2 a:1@3 a:2@3 b:1@3 desk:2@3 operator:4@8 "
      "operator:5@9";
  const JobLines job(lines, "j");
  EXPECT_EQ(told(job), order);
  Lines turned(lines.rbegin(), lines.rend());
  EXPECT_EQ(told(JobLines(turned, "j")), order);
  for (size_t i = 0; i < job.lines().size(); ++i)
    EXPECT_EQ(job.lines()[i].stamp.line, static_cast<int>(i));
  EXPECT_EQ(job.opened(), 0);
  EXPECT_EQ(job.closed(), 9);
  EXPECT_EQ(job.start_us(), kTen);
  EXPECT_EQ(job.end_us(), kTen + 9'000'000);
  EXPECT_EQ(JobLines(Lines{}, "j").start_us(), kBeginning);
  EXPECT_EQ(JobLines(Lines{}, "j").end_us(), kBeginning);
}

TEST(JobLines, EndWithTheFirstLineThatEndsThemUnlessReopened) {
  const auto ends = [](const Lines& lines) {
    const JobLines job(lines, "j");
    return std::pair(job.closed(), seconds(job.end_us() - kTen));
  };
  using End = std::pair<int, std::string>;
  EXPECT_EQ(ends({opened(), note(5, "desk", 1)}), End(kNoLine, "5"));
  EXPECT_EQ(ends({opened(), closed(10'000'000, 2), note(15, "desk", 1)}), End(1, "10"));
  EXPECT_EQ(ends({opened(), closed(10'000'000, 2), closed(20'000'000, 3)}), End(1, "10"));
  EXPECT_EQ(ends({opened(), said(10'000'000, "operator", 2, R"("abandoned":{"words":"-"})"),
                  closed(20'000'000, 3)}),
            End(1, "10"));
  EXPECT_EQ(
      ends({opened(), closed(10'000'000, 2), said(15'000'000, "operator", 3, R"("reopened":{})")}),
      End(kNoLine, "15"));
  EXPECT_EQ(ends({opened(), closed(10'000'000, 2),
                  said(15'000'000, "operator", 3, R"("reopened":{})"), closed(20'000'000, 4)}),
            End(3, "20"));
  const JobLines twice(Lines{opened(), opened(5'000'000, "", 2)}, "j");
  EXPECT_EQ(twice.opened(), 0);
}

TEST(JobLines, CountWhatCameTwiceOnce) {
  const Lines lines{opened(),           note(1, "desk", 1), note(1, "desk", 1),
                    note(2, "desk", 2), opened(),           note(1, "desk", 1)};
  const JobLines job(lines, "j");
  EXPECT_EQ(told(job), "operator:1@0 desk:1@1 desk:2@2");
  EXPECT_EQ(told(job.gaps()), "");
  auto late = note(1, "desk", 1);
  late.set_received("2026-03-02T12:00:00Z");
  EXPECT_EQ(told(JobLines(Lines{opened(), late, note(1, "desk", 1)}, "j")),
            "operator:1@0 desk:1@1");
}

TEST(JobLines, BelieveNothingFromAContradictedNumberOn) {
  const auto other = [](int64_t second) {
    return said(second * kSecondUs, "desk", 2, R"("note":{"text":"other"})");
  };
  const Lines lines{opened(),           note(1, "desk", 1), note(5, "desk", 2),  other(4),
                    note(6, "desk", 3), note(3, "b", 1),    closed(9'000'000, 2)};
  const JobLines job(lines, "j");
  EXPECT_EQ(told(job), "operator:1@0 desk:1@1 b:1@3 operator:2@9");
  EXPECT_EQ(told(job.gaps()), "desk 4-inf sources_disagree stated;");
  // At one instant with it, and also where one of the two came twice.
  EXPECT_EQ(told(JobLines(Lines{opened(), note(4, "desk", 1), note(5, "desk", 2), other(4)}, "j")),
            "operator:1@0");
  for (const Lines& some : {Lines{note(4, "desk", 2), note(4, "desk", 2), other(6)},
                            Lines{note(6, "desk", 2), other(4), other(4)},
                            Lines{other(6), other(6), note(4, "desk", 2)},
                            Lines{other(4), note(6, "desk", 2), note(6, "desk", 2)}}) {
    Lines all{opened(), note(3, "desk", 1)};
    all.insert(all.end(), some.begin(), some.end());
    const JobLines twice(all, "j");
    EXPECT_EQ(told(twice), "operator:1@0 desk:1@3");
    EXPECT_EQ(told(twice.gaps()), "desk 4-inf sources_disagree stated;");
  }
  EXPECT_EQ(
      told(JobLines(
          Lines{opened(), note(4, "a", 1), said(s(5), "a", 1, R"("note":{"text":"other"})")}, "j")),
      "operator:1@0");
}

TEST(JobLines, BelieveTheOpeningAlsoOfAContradictedSource) {
  const Lines lines{note(-5, "operator", 1),
                    said(-6'000'000, "operator", 1, R"("note":{"text":"other"})"),
                    opened(0, "", 2),
                    note(3, "b", 1),
                    said(4'000'000, "b", 1, R"("note":{"text":"other"})"),
                    note(2, "a", 1),
                    note(2, "a", 2),
                    note(9, "operator", 3)};
  const JobLines job(lines, "j");
  EXPECT_EQ(told(job), "operator:2@0 a:1@2 a:2@2");
  EXPECT_EQ(told(job.gaps()),
            "b 3-inf sources_disagree stated; operator -6-inf sources_disagree stated;");
}

// Stamps of the lines of a source.
std::string stamps(const Lines& lines, const std::string& source) {
  const JobLines job(lines, "j");
  std::string text;
  for (const JobLine& line : job.lines()) {
    if (job.source_of(line) != source) continue;
    Stamp stamp = line.stamp;
    stamp.line = kNoLine;
    text += told(stamp) + " ";
  }
  return text;
}

TEST(Clocks, AreTheRecordersOrOfTheirOwn) {
  const Lines lines{opened(),
                    note(1, "a", 1),
                    note(2, "a", 2, R"("clock":"truck","timeUncertaintyMs":3)"),
                    note(3, "a", 3, R"("clock":"one")"),
                    note(4, "a", 4, R"("clock":"one","timeUncertaintyMs":2000)"),
                    note(5, "a", 5, R"("clock":"two","timeUncertaintyMs":0)"),
                    note(6, "b", 1, ""),
                    note(7, "b", 2, R"("clock":"two")")};
  EXPECT_EQ(stamps(lines, "a"), "1 2@0(0.003) 3@1(?) 4@1(2) 5@2(0) ");
  EXPECT_EQ(stamps(lines, "b"), "6@3(?) 7@2(?) ");
  // The recorder's is the one by which this job was opened; without one, none is.
  EXPECT_EQ(
      stamps({said(0, "operator", 1,
                   R"("opened":{"procedures":[],"vehicle":"c","truck":"t","operator":"c"})",
                   R"("clock":"own")"),
              note(1, "a", 1), note(2, "a", 2, R"("clock":"own")"), of_job(opened(3, "", 2), "o")},
             "a"),
      "1@1(?) 2 ");
  EXPECT_EQ(stamps({note(1, "a", 1)}, "a"), "1@1(?) ");
}

TEST(Clocks, AreSetRightByTheOffsetNearestInTime) {
  const auto offset = [](int64_t second, uint32_t seq, const std::string& ms,
                         const std::string& sd) {
    return said(second * kSecondUs, "desk", seq,
                fmt::format(R"("clockOffset":{{"clock":"x","offsetMs":{},"sdMs":{}}})", ms, sd));
  };
  const std::string own = R"("clock":"x")";
  // 1.645 s.d., up to the microsecond: 1 ms gives 1645.
  EXPECT_EQ(stamps({opened(), offset(1, 1, "500", "1"), note(5, "a", 1, own)}, "a"),
            "4.5@1(0.001645) ");
  EXPECT_EQ(stamps({opened(), offset(1, 1, "-500", "0"), note(5, "a", 1, own)}, "a"), "5.5@1(0) ");
  EXPECT_EQ(stamps({opened(), offset(1, 1, "0.0009", "0"), note(5, "a", 1, own)}, "a"),
            "4.999999@1(0) ");
  EXPECT_EQ(stamps({opened(), offset(1, 1, "0.0005", "0"), note(5, "a", 1, own)}, "a"),
            "4.999999@1(0) ");
  EXPECT_EQ(stamps({opened(), offset(1, 1, "0.0004", "0"), note(5, "a", 1, own)}, "a"), "5@1(0) ");
  EXPECT_EQ(stamps({opened(), offset(1, 1, "-0.0006", "0"), note(5, "a", 1, own)}, "a"),
            "5.000001@1(0) ");
  // Its own stated uncertainty comes on top: 3 and 4 make 5.
  EXPECT_EQ(stamps({opened(), offset(1, 1, "0", "0.0018237"),
                    note(5, "a", 1, own + R"(,"timeUncertaintyMs":0.004)")},
                   "a"),
            "5@1(0.000005) ");
  EXPECT_EQ(
      stamps({opened(), offset(1, 1, "0", "0"), note(5, "a", 1, own + R"(,"timeUncertaintyMs":0)")},
             "a"),
      "5@1(0) ");
  // The nearest as shown; of two as near, the one that stands first.
  const Lines two{opened(),
                  offset(10, 1, "1000", "0"),
                  offset(20, 2, "3000", "0"),
                  note(9, "a", 1, own),
                  note(14, "b", 1, own),
                  note(15, "c", 1, own),
                  note(16, "d", 1, own),
                  note(30, "e", 1, own)};
  EXPECT_EQ(
      stamps(two, "a") + stamps(two, "b") + stamps(two, "c") + stamps(two, "d") + stamps(two, "e"),
      "8@1(0) 13@1(0) 14@1(0) 13@1(0) 27@1(0) ");
  // Of a clock that no line is timed by: nothing.
  EXPECT_EQ(
      stamps({opened(),
              said(1, "desk", 1, R"("clockOffset":{"clock":"nobody","offsetMs":500,"sdMs":1})"),
              note(5, "a", 1, own), note(6, "a", 2)},
             "a"),
      "5@1(?) 6 ");
}

TEST(Clocks, ThatStepBackStandInOrderOfTheirNumbers) {
  EXPECT_EQ(stamps({opened(), note(5, "a", 1), note(3, "a", 2), note(5, "a", 3), note(6, "a", 4),
                    note(2, "b", 1)},
                   "a"),
            "5 5-2+2 5 6 ");
  EXPECT_EQ(
      stamps({opened(), note(5, "a", 1), note(3, "a", 2), note(4, "a", 3), note(6, "a", 4)}, "a"),
      "5 5-2+2 5-1+1 6 ");
  EXPECT_EQ(stamps({opened(), said(5, "a", 1, kNote), said(4, "a", 2, kNote)}, "a"),
            "0.000005 0.000005-0.000001+0.000001 ");
}

std::string gaps(const Lines& lines) { return told(JobLines(lines, "j").gaps()); }

TEST(Missing, AreTheNumbersBetween) {
  EXPECT_EQ(gaps({opened(), note(1, "a", 1), note(2, "a", 2), note(3, "a", 3)}), "");
  EXPECT_EQ(gaps({opened(), note(1, "a", 1), note(3, "a", 3)}), "a 1-3 no_data 1 lost;");
  EXPECT_EQ(gaps({opened(), note(1, "a", 4), note(3, "a", 9), note(4, "a", 10), note(5, "b", 7),
                  note(7, "b", 9)}),
            "a 1-3 no_data 4 lost; b 5-7 no_data 1 lost;");
  // From the first seen on, unless the opening says from which.
  const std::string start = R"(,"firstSeq":[{"source":"a","seq":2},{"source":"b","seq":1}])";
  EXPECT_EQ(gaps({opened(0, start), note(1, "a", 2), note(2, "b", 1), note(3, "c", 8)}), "");
  EXPECT_EQ(gaps({opened(0, start), note(1, "a", 3), note(2, "b", 4)}),
            "a -inf-1 no_data 1 lost; b -inf-2 no_data 3 lost;");
  EXPECT_EQ(gaps({opened(0, start), note(1, "a", 1), note(2, "a", 2)}), "");
  EXPECT_EQ(gaps({of_job(opened(0, start, 2), "o"), opened(1), note(1, "a", 3)}),
            "");  // Another job's opening says nothing here.
  const JobLines job(Lines{opened(), note(1, "a", 1), note(3, "a", 3), note(3, "b", 1)}, "j");
  EXPECT_TRUE(job.missing_seq("a"));
  EXPECT_FALSE(job.missing_seq("b"));
  EXPECT_FALSE(job.missing_seq("nobody"));
}

TEST(Missing, EachSourceForItself) {
  EXPECT_EQ(gaps({opened(), note(1, "a", 5), note(2, "b", 9)}), "");
  EXPECT_EQ(gaps({opened(), note(8, "a", 5), note(2, "b", 9), note(3, "b", 11)}),
            "b 2-3 no_data 1 lost;");
  EXPECT_EQ(gaps({opened(0, R"(,"firstSeq":[{"source":"b","seq":8}])"), note(8, "a", 5),
                  note(2, "b", 9)}),
            "b -inf-2 no_data 1 lost;");
}

TEST(Undo, TakesALineBackAsIfNeverSaid) {
  const auto undo = [](int64_t second, const std::string& source, uint32_t seq,
                       const std::string& of, uint32_t number) {
    return said(second * kSecondUs, source, seq,
                fmt::format(R"("undo":{{"source":"{}","seq":{}}})", of, number));
  };
  EXPECT_EQ(told(JobLines(Lines{opened(), note(1, "desk", 1), note(2, "desk", 2),
                                undo(3, "operator", 2, "desk", 1)},
                          "j")),
            "operator:1@0 desk:2@2 operator:2@3");
  EXPECT_EQ(gaps({opened(), note(1, "desk", 1), note(2, "desk", 2), note(3, "desk", 3),
                  undo(4, "operator", 2, "desk", 2)}),
            "");
  // An undo that is taken back took nothing back.
  EXPECT_EQ(told(JobLines(Lines{opened(), note(1, "desk", 1), undo(2, "operator", 2, "desk", 1),
                                undo(3, "operator", 3, "operator", 2)},
                          "j")),
            "operator:1@0 desk:1@1 operator:3@3");
  // In order of time, whatever the sources' names.
  EXPECT_EQ(told(JobLines(Lines{opened(), note(1, "desk", 1), undo(2, "operator", 2, "desk", 1),
                                undo(3, "desk", 2, "operator", 2)},
                          "j")),
            "operator:1@0 desk:1@1 desk:2@3");
  // What an instrument read no person takes back.
  EXPECT_EQ(
      told(JobLines(Lines{opened(), note(1, "gps", 1), undo(2, "operator", 2, "gps", 1)}, "j")),
      "operator:1@0 gps:1@1 operator:2@2");
}

TEST(Bursts, ProveNoOrderSinceTheMarkBefore) {
  const auto taps = [](const std::vector<int64_t>& times) {
    Lines lines{opened()};
    uint32_t seq = 1;
    for (const int64_t us : times) lines.push_back(said(us, "operator", ++seq, kNote));
    return stamps(lines, "operator");
  };
  EXPECT_EQ(taps({20'000'000, 22'500'000, 25'000'000}), "0 20-20 22.5-22.5 25-25 ");
  EXPECT_EQ(taps({20'000'000, 22'500'000, 25'000'001}), "0 20 22.5 25.000001 ");
  EXPECT_EQ(taps({20'000'000, 25'000'000}), "0 20 25 ");
  EXPECT_EQ(taps({10'000'000, 20'000'000, 22'000'000, 24'000'000, 27'000'000, 40'000'000}),
            "0 10 20-10 22-12 24-14 27-17 40 ");
  EXPECT_EQ(taps({10'000'000, 20'000'000, 22'000'000, 24'000'000, 27'000'001, 40'000'000}),
            "0 10 20-10 22-12 24-14 27.000001 40 ");
  // The first mark of all has none before it.
  EXPECT_EQ(taps({1'000'000, 2'000'000}), "0 1-1 2-2 ");
  // Two bursts, one right after the other: the second goes back to the first's last mark.
  EXPECT_EQ(taps({20'000'000, 21'000'000, 22'000'000, 30'000'000, 31'000'000, 32'000'000}),
            "0 20-20 21-21 22-22 30-8 31-9 32-10 ");
  EXPECT_EQ(taps({20'000'000, 22'500'000, 25'000'000, 27'500'001, 30'000'000}),
            "0 20-20 22.5-22.5 25-25 27.500001 30 ");
}

TEST(Bursts, AreOfTheOperatorsMarksOfAllJobs) {
  const auto with = [](const v1::Observation& third) {
    Lines lines{opened(), note(20, "operator", 2), note(22, "operator", 3), third};
    return stamps(lines, "operator");
  };
  EXPECT_EQ(with(note(24, "desk", 1)), "0 20 22 ");
  EXPECT_EQ(with(said(24'000'000, "operator", 4, kAlive)), "0 20 22 24 ");
  EXPECT_EQ(with(said(24'000'000, "operator", 4, R"("gap":{"channel":"operator","cause":"-"})")),
            "0 20 22 24 ");
  EXPECT_EQ(
      with(said(24'000'000, "operator", 4, R"("clockOffset":{"clock":"x","offsetMs":1,"sdMs":1})")),
      "0 20 22 24 ");
  EXPECT_EQ(with(said(24'000'000, "operator", 4, R"("undo":{"source":"desk","seq":1})")),
            "0 20 22 24 ");
  EXPECT_EQ(with(of_job(note(24, "operator", 4), "o")), "0 20-20 22-22 ");
}

TEST(JobLines, KnowWhenASourceSpokeLast) {
  const JobLines job(Lines{opened(), note(1, "a", 1), note(3, "a", 2), of_job(note(4, "a", 3), "o"),
                           of_job(note(5, "c", 1), "o")},
                     "j");
  EXPECT_EQ(job.last_us("a"), kTen + 3'000'000);
  EXPECT_EQ(job.last_us("operator"), kTen);
  EXPECT_EQ(job.last_us("c"), std::nullopt);  // Only lines of another job.
  EXPECT_EQ(job.last_us("nobody"), std::nullopt);
}

TEST(JobLines, KnowHowFarSourcesMayBeOff) {
  const Lines lines{opened(),
                    note(1, "a", 1, R"("clock":"x","timeUncertaintyMs":3)"),
                    note(2, "a", 2, R"("clock":"x","timeUncertaintyMs":1)"),
                    note(3, "b", 1, R"("clock":"y","timeUncertaintyMs":4)"),
                    note(4, "c", 1, R"("clock":"z")"),
                    note(5, "d", 1, R"("clock":"w","timeUncertaintyMs":5)"),
                    note(6, "d", 2, R"("clock":"w")"),
                    note(7, "e", 1),
                    note(8, "e", 2, R"("clock":"x","timeUncertaintyMs":2)"),
                    note(9, "f", 1, R"("clock":"v","timeUncertaintyMs":1)"),
                    note(10, "f", 2, R"("clock":"v","timeUncertaintyMs":7)"),
                    note(13, "h", 1, R"("clock":"s","timeUncertaintyMs":3)"),
                    note(14, "h", 2, R"("clock":"s","timeUncertaintyMs":0)"),
                    note(11, "g", 1, R"("clock":"t","timeUncertaintyMs":0)"),
                    note(12, "g", 2, R"("clock":"t","timeUncertaintyMs":6)")};
  const JobLines job(lines, "j");
  const auto width = [&](const std::set<std::string>& sources, const Stamp& at) -> std::string {
    const auto us = job.clock_width_us(sources, at);
    return us ? std::to_string(*us) : "?";
  };
  const Stamp here = job.line(0).stamp;
  EXPECT_EQ(width({}, here), "0");
  EXPECT_EQ(width({"a"}, here), "3000");  // The widest of its clock.
  EXPECT_EQ(width({"a", "b"}, here), "4000");
  EXPECT_EQ(width({"b", "a"}, here), "4000");
  EXPECT_EQ(width({"c"}, here), "?");
  EXPECT_EQ(width({"a", "c"}, here), "?");
  EXPECT_EQ(width({"d"}, here), "?");
  EXPECT_EQ(width({"e"}, here), "2000");
  EXPECT_EQ(width({"f"}, here), "7000");
  EXPECT_EQ(width({"g"}, here), "6000");
  EXPECT_EQ(width({"h"}, here), "3000");
  EXPECT_EQ(width({"nobody"}, here), "0");
  Stamp at = job.line(3).stamp;  // By y, 4 ms.
  at.early_us = 77;              // What the instant itself may be off by is no matter of clocks.
  EXPECT_EQ(width({"b"}, at), "0");
  EXPECT_EQ(width({"a"}, at), "5000");
}

TEST(JobLines, KnowNothingOfWhatTheReaderMetLater) {
  LineReader reader;
  const Lines lines{opened(), note(1, "a", 1)};
  std::vector<ReadLine> read;
  for (const v1::Observation& line : lines) read.push_back(reader.read(line));
  const std::vector<const ReadLine*> all{&read[0], &read[1]};
  const JobLines job(reader, all, "j");
  (void)reader.read(sampled(2, "late", 1, "line.pull", 5));
  EXPECT_EQ(job.last_us("late"), std::nullopt);
  EXPECT_EQ(job.clock_width_us({"late"}, job.line(0).stamp), 0);
  EXPECT_EQ(job.readings("line.pull").size(), 0u);
  EXPECT_EQ(job.reading_sources("line.pull"), std::set<std::string>{});
}

TEST(JobLines, ListWhatWasSaidAndRead) {
  const std::string fix = R"("fix":{"latDeg":44,"lonDeg":-30,"speedMps":1.5,"hSdM":2,"mode":3})";
  const Lines lines{opened(),
                    sampled(1, "line", 1, "line.pull", 5),
                    said(2, "gps.tag", 1, fix),
                    said(3, "line", 2, kAlive),
                    sampled(4, "b", 1, "line.pull", 6),
                    sampled(5, "line", 3, "line.out", 7),
                    said(6, "gps.truck", 1, fix),
                    sampled(7, "line", 4, "line.pull", 8),
                    closed(9, 2)};
  const JobLines job(lines, "j");
  EXPECT_EQ(job.spoken(), (std::vector<int>{0, 8}));
  EXPECT_EQ(job.fixes(), (std::vector<int>{2, 6}));
  std::string pulls;
  for (const Reading& one : job.readings("line.pull"))
    pulls += fmt::format("{}@{} ", one.value, one.line);
  EXPECT_EQ(pulls, "5@1 6@4 8@7 ");
  EXPECT_EQ(job.readings("clamp.volts").size(), 0);
  EXPECT_EQ(job.reading_sources("line.pull"), (std::set<std::string>{"b", "line"}));
  EXPECT_EQ(job.reading_sources("line.out"), (std::set<std::string>{"line"}));
  EXPECT_EQ(job.reading_sources("clamp.volts"), std::set<std::string>{});
  EXPECT_TRUE(job.line(1).good);
  EXPECT_FALSE(JobLines(Lines{opened(), said(1, "line", 1, kNote, R"("quality":"SUSPECT")")}, "j")
                   .line(1)
                   .good);
}

TEST(StatedGaps, LastFromTheLastLineBeforeToTheNext) {
  const auto gap = [](int64_t second, const std::string& source, uint32_t seq,
                      const std::string& channel) {
    return said(second * kSecondUs, source, seq,
                fmt::format(R"("gap":{{"channel":"{}","cause":"-"}})", channel));
  };
  const auto pull = [](int64_t second, uint32_t seq) {
    return sampled(second * kSecondUs, "line", seq, "line.pull", 5);
  };
  const auto out = [](int64_t second, uint32_t seq) {
    return sampled(second * kSecondUs, "line", seq, "line.out", 5);
  };
  EXPECT_EQ(
      gaps({opened(), pull(1, 1), gap(5, "line", 2, "line"), pull(8, 3), closed(20'000'000, 2)}),
      "line 1-8 no_data stated;");
  EXPECT_EQ(gaps({opened(), pull(1, 1), gap(5, "line", 2, "line")}),
            "line 1-inf cut_short stated;");
  EXPECT_EQ(gaps({opened(), gap(5, "line", 1, "line"), pull(8, 2)}), "line -inf-8 no_data stated;");
  // Lines at the same instant stand before it; others' lines and its own signs of life are no
  // matter.
  EXPECT_EQ(gaps({opened(), pull(1, 1), pull(5, 2), gap(5, "line", 3, "line"), pull(5, 4),
                  said(6'000'000, "line", 5, kAlive), pull(8, 6),
                  sampled(7'000'000, "b", 1, "line.pull", 5)}),
            "line 5-8 no_data stated;");
  // Of one channel: from its own readings, and what is no sample.
  EXPECT_EQ(gaps({opened(), pull(1, 1), out(2, 2), gap(5, "line", 3, "line.pull"), out(6, 4),
                  pull(8, 5)}),
            "line/line.pull 1-8 no_data stated;");
  EXPECT_EQ(gaps({opened(), pull(1, 1), note(2, "line", 2), gap(5, "line", 3, "line.pull"),
                  note(6, "line", 4), pull(8, 5)}),
            "line/line.pull 2-6 no_data stated;");
  EXPECT_EQ(gaps({opened(), out(2, 1), gap(5, "line", 2, "line.pull"), out(6, 3)}),
            "line/line.pull -inf-inf cut_short stated;");
  // Two of them, and one of another source.
  EXPECT_EQ(gaps({opened(), pull(1, 1), gap(3, "line", 2, "line"), gap(4, "line", 3, "line"),
                  pull(8, 4), sampled(1, "b", 1, "line.pull", 5), gap(6, "b", 2, "b"),
                  sampled(7'000'000, "b", 3, "line.pull", 5)}),
            "line 1-8 no_data stated; line 1-8 no_data stated; b 0.000001-7 no_data stated;");
  // A contradicted source's gap has its own reason.
  EXPECT_EQ(
      gaps({opened(), note(3, "b", 1), said(4'000'000, "b", 1, R"("note":{"text":"other"})")}),
      "b 3-inf sources_disagree stated;");
}

}  // namespace
}  // namespace fairlead::judge
