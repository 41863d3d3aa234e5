// A quantity over time: what is known at an instant, over a span, where it is not; means over bins
// and what they come to.
#include "daemon/judge/series.h"

#include <gtest/gtest.h>

#include "daemon/judge/bin_tally.h"
#include "daemon/judge/bins.h"
#include "tests/unit/judge/facts/facts_kit.h"

namespace fairlead::judge {
namespace {

Piece piece(int64_t from_us, int64_t to_us, int64_t value = 7) {
  return {.from_us = from_us, .to_us = to_us, .value = value, .lo = value, .hi = value};
}

Series series_of(std::vector<Piece> pieces) {
  Series series;
  series.pieces = std::move(pieces);
  return series;
}

std::string tell(const std::vector<Hole>& holes) { return told(holes, 0); }

TEST(Series, KnowsItsValueFromTheReadingUpToTheNext) {
  const Series series = series_of({piece(10, 20, 1), piece(20, 30, 2), piece(40, 50, 3)});
  EXPECT_EQ(series.at(9), nullptr);
  EXPECT_EQ(series.at(10)->value, 1);
  EXPECT_EQ(series.at(19)->value, 1);
  EXPECT_EQ(series.at(20)->value, 2);
  EXPECT_EQ(series.at(30), nullptr);
  EXPECT_EQ(series.at(40)->value, 3);
  EXPECT_EQ(series.at(50), nullptr);
  EXPECT_EQ(Series().at(0), nullptr);
}

TEST(Series, GivesThePiecesWithinASpan) {
  const Series series = series_of({piece(10, 20, 1), piece(20, 30, 2), piece(40, 50, 3)});
  const auto within = [&](int64_t from_us, int64_t to_us) {
    std::string text;
    for (const Piece& one : series.within(from_us, to_us)) text += std::to_string(one.value);
    return text;
  };
  EXPECT_EQ(within(0, 100), "123");
  EXPECT_EQ(within(20, 40), "2");
  EXPECT_EQ(within(19, 41), "123");
  EXPECT_EQ(within(30, 40), "");
  EXPECT_EQ(within(35, 5), "");
  EXPECT_EQ(within(50, 90), "");
  EXPECT_EQ(within(0, 10), "");
}

TEST(Series, KnowsItsHoles) {
  Series series = series_of({piece(10, 20), piece(20, 30), piece(40, 50)});
  EXPECT_EQ(tell(series.holes(10, 30)), "");
  EXPECT_EQ(tell(series.holes(9, 30)), "0.000009-0.00001 no_data;");
  EXPECT_EQ(tell(series.holes(10, 31)), "0.00003-0.000031 no_data;");
  EXPECT_EQ(tell(series.holes(10, 40)), "0.00003-0.00004 no_data;");
  EXPECT_EQ(tell(series.holes(0, 50)), "0-0.00001 no_data; 0.00003-0.00004 no_data;");
  EXPECT_EQ(tell(series.holes(15, 51)), "0.00003-0.00004 no_data; 0.00005-0.000051 cut_short;");
  EXPECT_EQ(tell(series.holes(35, 36)), "0.000035-0.000036 no_data;");
  series.after_last = Reason::kSourcesDisagree;
  EXPECT_EQ(tell(series.holes(60, 70)), "0.00006-0.00007 sources_disagree;");
  EXPECT_EQ(tell(Series().holes(1, 2)), "0.000001-0.000002 no_data;");
}

TEST(Series, WalksItsHolesAsReadingsCome) {
  Series series = series_of({piece(10, 20), piece(25, 30), piece(40, 60)});
  HoleWalk walk(5);
  walk.pass(series, 100, 30);
  // What was passed stands; the last piece may still be cut short by a reading.
  series.pieces = {piece(11, 12), piece(29, 30), piece(40, 50), piece(55, 90)};
  EXPECT_EQ(tell(walk.holes(series, 80)),
            "0.000005-0.00001 no_data; 0.00002-0.000025 no_data; 0.00003-0.00004 no_data; "
            "0.00005-0.000055 no_data;");
  walk.pass(series, 40, 200);  // Nothing that begins at the end of what is asked.
  series.pieces[2].from_us = 35;
  EXPECT_EQ(tell(walk.holes(series, 50)),
            "0.000005-0.00001 no_data; 0.00002-0.000025 no_data; 0.00003-0.000035 no_data;");
  HoleWalk fresh(5);
  fresh.pass(series_of({piece(5, 31)}), 100, 30);
  EXPECT_EQ(tell(fresh.holes(series_of({piece(10, 20)}), 20)), "0.000005-0.00001 no_data;");
  EXPECT_EQ(tell(HoleWalk().holes(series_of({piece(0, 5)}), 6)), "0.000005-0.000006 cut_short;");
}

TEST(Series, WidensAReadingByItsNoise) {
  // u = 1.645 s, outward: 1,000 thousandths of the unit are 1.645.
  EXPECT_EQ(told(interval_of({.value = 10, .lo = 8, .hi = 13, .sd_milli = 1000})), "6 10 15");
  EXPECT_EQ(told(interval_of({.value = 10, .lo = 8, .hi = 13, .sd_milli = 1'000'000})),
            "-1637 10 1658");
  EXPECT_EQ(told(interval_of({.value = 10, .lo = 8, .hi = 13})), "8 10 13");
  EXPECT_EQ(told(interval_of({.value = 10, .lo = 10, .hi = 10, .sd_milli = 1})), "9 10 11");
}

std::string tell(const std::optional<Bin>& bin) {
  if (!bin) return "none";
  std::string text;
  for (const int64_t number : {bin->from_us, bin->to_us, bin->mean_milli, bin->lo_milli,
                               bin->hi_milli, bin->sd_milli, int64_t{bin->line}, bin->line_us})
    text += std::to_string(number) + " ";
  return text;
}

TEST(Bins, AreMeansOverWhatIsCovered) {
  // (10 us of 1, 20 us of 4) over 30: 3 exactly; lo and hi of the pieces likewise, outward.
  const Series series = series_of(
      {{.from_us = 0, .to_us = 10, .value = 1, .lo = 0, .hi = 3, .sd_milli = 5, .line = 1},
       {.from_us = 10, .to_us = 30, .value = 4, .lo = 2, .hi = 4, .sd_milli = 4, .line = 2}});
  EXPECT_EQ(tell(bin_of(series, 0, 30, 0, 30)), "0 30 3000 1333 3667 5 2 10 ");
  EXPECT_EQ(tell(bin_of(series, 5, 15, 0, 30)), "5 15 2500 1000 3500 5 2 10 ");
  EXPECT_EQ(tell(bin_of(series, 10, 20, 0, 30)), "10 20 4000 2000 4000 4 2 10 ");
  EXPECT_EQ(tell(bin_of(series, 12, 20, 0, 30)), "12 20 4000 2000 4000 4 2 12 ");
  EXPECT_EQ(tell(bin_of(series, 0, 10, 0, 30)), "0 10 1000 0 3000 5 1 0 ");
}

TEST(Bins, RoundTheMeanToTheNearestAndItsEndsOutward) {
  const auto mean = [](int64_t a, int64_t b, int64_t split) {
    return tell(bin_of(series_of({piece(0, split, a), piece(split, 2000, b)}), 0, 2000, 0, 2000));
  };
  EXPECT_EQ(mean(0, 1, 1999), "0 2000 1 0 1 0 -1 1999 ");      // 0.5: up.
  EXPECT_EQ(mean(0, -1, 1999), "0 2000 0 -1 0 0 -1 1999 ");    // -0.5: up.
  EXPECT_EQ(mean(0, -3, 1999), "0 2000 -1 -2 -1 0 -1 1999 ");  // -1.5.
  EXPECT_EQ(mean(2, 2, 1000), "0 2000 2000 2000 2000 0 -1 0 ");
}

TEST(Bins, CountIfHalfCovered) {
  const Series series = series_of({piece(0, 10)});
  EXPECT_EQ(tell(bin_of(series, 0, 20, 0, 20)), "0 20 7000 7000 7000 0 -1 0 ");
  EXPECT_EQ(tell(bin_of(series, 0, 21, 0, 21)), "none");
  EXPECT_EQ(tell(bin_of(series, 5, 15, 0, 20)), "5 15 7000 7000 7000 0 -1 5 ");
  EXPECT_EQ(tell(bin_of(series, 6, 15, 0, 20)), "none");
  EXPECT_EQ(tell(bin_of(series, 0, 10, 5, 20)),
            "0 10 7000 7000 7000 0 -1 5 ");  // What of it lies in the phase.
  EXPECT_EQ(tell(bin_of(series, 0, 10, 6, 20)), "none");
  EXPECT_EQ(tell(bin_of(series, 0, 10, 0, 5)), "0 10 7000 7000 7000 0 -1 0 ");
  EXPECT_EQ(tell(bin_of(series, 0, 10, 0, 4)), "none");
  EXPECT_EQ(tell(bin_of(series, 10, 20, 0, 20)), "none");
  EXPECT_EQ(tell(bin_of(series, 0, 0, 0, 20)), "none");
  EXPECT_EQ(tell(bin_of(series, 9, 10, 0, 20)), "9 10 7000 7000 7000 0 -1 9 ");
  EXPECT_EQ(tell(bin_of(Series(), 0, 10, 0, 20)), "none");
}

TEST(Bins, NameTheReadingFurthestFromNothing) {
  const auto line = [](std::vector<int64_t> values) {
    std::vector<Piece> pieces;
    for (const int64_t value : values) {
      pieces.push_back(piece(static_cast<int64_t>(pieces.size()) * 10,
                             static_cast<int64_t>(pieces.size()) * 10 + 10, value));
      pieces.back().line = static_cast<int>(pieces.size());
    }
    const auto bin = bin_of(series_of(pieces), 5, 30, 0, 30);
    return std::pair(bin->line, bin->line_us);
  };
  EXPECT_EQ(line({3, -5, 4}), std::pair(2, int64_t{10}));
  EXPECT_EQ(line({5, -5, 5}),
            std::pair(1, int64_t{5}));  // The first of equals, from where the bin begins.
  EXPECT_EQ(line({0, 0, 0}), std::pair(1, int64_t{5}));
}

// Start and end of each bin up to `until`, and where the walk goes on.
std::string walked(const Series& series, int64_t length_us, int64_t from_us, int64_t to_us,
                   int64_t until_us) {
  BinWalk walk(series, length_us, from_us, to_us);
  int64_t start_us = from_us;
  std::string text;
  while (const auto bin = walk.next(start_us, until_us)) text += std::to_string(bin->from_us) + " ";
  return text + "-> " + std::to_string(start_us);
}

TEST(Bins, AreWalkedOneAfterAnother) {
  const Series whole = series_of({piece(0, 15), piece(15, 100)});
  EXPECT_EQ(walked(whole, 10, 0, 40, 1000), "0 10 20 30 -> 40");
  EXPECT_EQ(walked(whole, 10, 3, 40, 1000), "3 13 23 33 -> 43");  // The last: 7 of 10 in the phase.
  EXPECT_EQ(walked(whole, 10, 6, 40, 1000), "6 16 26 -> 46");     // 4 of 10.
  EXPECT_EQ(walked(whole, 10, 0, 40, 30), "0 10 20 -> 30");
  EXPECT_EQ(walked(whole, 10, 0, 40, 29), "0 10 -> 20");
  EXPECT_EQ(walked(whole, 10, 0, 0, 1000), "-> 0");
  EXPECT_EQ(walked(Series(), 10, 0, 40, 1000), "-> 0");
}

TEST(Bins, SkipWhatHasNoReading) {
  const Series apart = series_of({piece(0, 10), piece(55, 100)});
  EXPECT_EQ(walked(apart, 10, 0, 90, 1000), "0 50 60 70 80 -> 90");
  EXPECT_EQ(walked(series_of({piece(56, 100)}), 10, 0, 70, 1000),
            "60 -> 70");  // 4 of the bin at 50.
  EXPECT_EQ(walked(apart, 10, 0, 90, 60), "0 50 -> 60");
  EXPECT_EQ(walked(apart, 10, 0, 90, 59), "0 -> 10");
  EXPECT_EQ(walked(series_of({piece(10, 20)}), 10, 0, 90, 1000), "10 -> 20");
  EXPECT_EQ(walked(series_of({piece(10, 20)}), 10, 0, 90, 19), "-> 0");  // Not before its bin ends.
  EXPECT_EQ(walked(series_of({piece(9, 20)}), 10, 0, 90, 1000), "10 -> 20");
  EXPECT_EQ(walked(series_of({piece(20, 30)}), 10, 0, 90, 1000), "20 -> 30");
  EXPECT_EQ(walked(series_of({piece(20, 30)}), 10, 0, 15, 1000), "-> 30");
}

BinTally tally(std::optional<int64_t> lo, std::optional<int64_t> best, std::optional<int64_t> hi,
               int64_t value) {
  BinTally one;
  one.margin = {lo, best, hi};
  one.value = {value, value, value};
  one.limit = value + 1;
  one.worst = Bin{.from_us = value};
  return one;
}

std::string tell(const BinTally& one) {
  const auto end = [](const std::optional<int64_t>& number) {
    return number ? std::to_string(*number) : "-";
  };
  return end(one.margin.lo) + " " + end(one.margin.best) + " " + end(one.margin.hi) + " value " +
         end(one.value.best) + " limit " + end(one.limit) + " bin " +
         (one.worst ? std::to_string(one.worst->from_us) : "-");
}

TEST(BinTally, KeepsTheLeastOfEachEndAndTheWorstBin) {
  const auto sum = [](BinTally a, const BinTally& b) {
    a.add(b);
    return tell(a);
  };
  EXPECT_EQ(sum(tally(1, 5, 9, 100), tally(2, 4, 8, 200)), "1 4 8 value 200 limit 201 bin 200");
  EXPECT_EQ(sum(tally(2, 4, 8, 200), tally(1, 5, 9, 100)), "1 4 8 value 200 limit 201 bin 200");
  EXPECT_EQ(sum(tally(1, 5, 9, 100), tally(1, 5, 9, 200)),
            "1 5 9 value 100 limit 101 bin 100");  // The first of equals.
  EXPECT_EQ(sum(BinTally(), tally(1, 5, 9, 100)), "1 5 9 value 100 limit 101 bin 100");
  EXPECT_EQ(sum(tally(1, 5, 9, 100), BinTally()), "1 5 9 value 100 limit 101 bin 100");
  EXPECT_EQ(sum(tally({}, {}, {}, 100), tally(3, {}, 7, 200)), "3 - 7 value 100 limit 101 bin 100");
  EXPECT_EQ(sum(tally(-1, 0, 0, 100), tally({}, -1, {}, 200)),
            "-1 -1 0 value 200 limit 201 bin 200");
}

TEST(BinTally, KeepsWhatEitherFound) {
  const auto flags = [](const BinTally& one) {
    return std::string(one.any ? "a" : "") + (one.lo_known ? "l" : "") +
           (one.unsure_outside ? "u" : "") + (one.too_close ? "c" : "") +
           (one.scatters_more ? "s" : "");
  };
  const auto sum = [&](BinTally a, const BinTally& b) {
    a.add(b);
    return flags(a);
  };
  BinTally any, unknown, unsure, close, scattered;
  any.any = unsure.unsure_outside = close.too_close = scattered.scatters_more = true;
  unknown.lo_known = false;
  EXPECT_EQ(sum({}, {}), "l");
  EXPECT_EQ(sum(any, {}), "al");
  EXPECT_EQ(sum({}, any), "al");
  EXPECT_EQ(sum(unknown, {}), "");
  EXPECT_EQ(sum({}, unknown), "");
  EXPECT_EQ(sum(unsure, {}), "lu");
  EXPECT_EQ(sum({}, unsure), "lu");
  EXPECT_EQ(sum(close, {}), "lc");
  EXPECT_EQ(sum({}, close), "lc");
  EXPECT_EQ(sum(scattered, {}), "ls");
  EXPECT_EQ(sum({}, scattered), "ls");
  BinTally doubts;
  doubts.doubts = {Reason::kNoData};
  BinTally more;
  more.doubts = {Reason::kClockDoubt};
  doubts.add(more);
  EXPECT_EQ(doubts.doubts, (std::set<Reason>{Reason::kNoData, Reason::kClockDoubt}));
}

}  // namespace
}  // namespace fairlead::judge
