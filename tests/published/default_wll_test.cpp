// 49 CFR 393.108 "Default working load limits", both columns as printed, whole. Marks: [V] read on
// the page of that name, [V2] read in a second transcription only, [M] from memory.
#include "daemon/physics/default_wll.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <utility>
#include <vector>

#include "daemon/physics/securement_parts.h"

namespace fairlead::physics {
namespace {

using M = TiedownMaterial;

// Millimetres and inches as printed; a piece of either printing takes the row.
struct Size {
  double mm, inch;
};
struct Pair {
  int kg, lb;
};
constexpr Pair kDash{0, 0};
constexpr auto kRead = Standing::kPublished;
constexpr auto kMemory = Standing::kMemory;  // Of the kg column; pounds [V2].

int64_t mm_um(const Size& size) { return static_cast<int64_t>(size.mm * 1000 + 0.5); }
int64_t inch_um(const Size& size) { return static_cast<int64_t>(size.inch * 25'400 + 0.5); }

void expect_row(M material, const Size& size, const Pair& printed, Standing standing) {
  for (const int64_t um : {mm_um(size), inch_um(size)}) {
    const auto found = printed_wll(material, um);
    ASSERT_EQ(found.has_value(), printed.kg != kDash.kg) << um;
    EXPECT_EQ(default_wll_kg(material, um).value_or(0), printed.kg) << um;
    if (!found) continue;
    EXPECT_EQ(found->kg, printed.kg) << um;
    EXPECT_EQ(found->lb, printed.lb) << um;
    EXPECT_EQ(found->standing, standing) << um;
  }
}

// Chain [V]. At 8 mm grade 80 stands below grade 70, as printed.
struct ChainRow {
  Size size;
  Pair proof_30, high_43, transport_70, alloy_80, alloy_100;
};
constexpr ChainRow kChain[] = {
    {{7, 1.0 / 4}, {580, 1300}, {1180, 2600}, {1430, 3150}, {1570, 3500}, {1950, 4300}},
    {{8, 5.0 / 16}, {860, 1900}, {1770, 3900}, {2130, 4700}, {2000, 4500}, {2600, 5700}},
    {{10, 3.0 / 8}, {1200, 2650}, {2450, 5400}, {2990, 6600}, {3200, 7100}, {4000, 8800}},
    {{11, 7.0 / 16}, {1680, 3700}, {3270, 7200}, {3970, 8750}, kDash, kDash},
    {{13, 1.0 / 2}, {2030, 4500}, {4170, 9200}, {5130, 11300}, {5400, 12000}, {6800, 15000}},
    {{16, 5.0 / 8}, {3130, 6900}, {5910, 13000}, {7170, 15800}, {8200, 18100}, {10300, 22600}}};

TEST(DefaultWll, Chain) {
  for (const ChainRow& row : kChain) {
    SCOPED_TRACE(row.size.mm);
    expect_row(M::kChain30, row.size, row.proof_30, kRead);
    expect_row(M::kChain43, row.size, row.high_43, kRead);
    expect_row(M::kChain70, row.size, row.transport_70, kRead);
    expect_row(M::kChain80, row.size, row.alloy_80, kRead);
    expect_row(M::kChain100, row.size, row.alloy_100, kRead);
  }
  EXPECT_EQ(largest_default_wll_kg(M::kChain30), 3130);
  EXPECT_EQ(largest_default_wll_kg(M::kChain100), 10300);
}

// Synthetic webbing [V].
TEST(DefaultWll, Webbing) {
  expect_row(M::kWebbing, {45, 1.75}, {790, 1750}, kRead);
  expect_row(M::kWebbing, {50, 2}, {910, 2000}, kRead);
  expect_row(M::kWebbing, {75, 3}, {1360, 3000}, kRead);
  expect_row(M::kWebbing, {100, 4}, {1810, 4000}, kRead);
  EXPECT_EQ(largest_default_wll_kg(M::kWebbing), 1810);
}

// Wire rope, 6 x 37 fibre core: to 20 mm [V]; 22 and 25 mm [pounds V2, kg M].
TEST(DefaultWll, WireRope) {
  expect_row(M::kWireRope, {7, 1.0 / 4}, {640, 1400}, kRead);
  expect_row(M::kWireRope, {8, 5.0 / 16}, {950, 2100}, kRead);
  expect_row(M::kWireRope, {10, 3.0 / 8}, {1360, 3000}, kRead);
  expect_row(M::kWireRope, {11, 7.0 / 16}, {1860, 4100}, kRead);
  expect_row(M::kWireRope, {13, 1.0 / 2}, {2400, 5300}, kRead);
  expect_row(M::kWireRope, {16, 5.0 / 8}, {3770, 8300}, kRead);
  expect_row(M::kWireRope, {20, 3.0 / 4}, {4940, 10900}, kRead);
  expect_row(M::kWireRope, {22, 7.0 / 8}, {7300, 16100}, kMemory);
  expect_row(M::kWireRope, {25, 1}, {9480, 20900}, kMemory);
}

// Fibre rope: pounds [V2], kg [M]. One transcription has the nylon columns the other way round.
struct RopeRow {
  Size size;
  Pair manila, polypropylene, polyester, nylon, double_nylon;
};
constexpr RopeRow kRope[] = {
    {{10, 3.0 / 8}, {90, 205}, {180, 400}, {250, 555}, {130, 278}, {150, 336}},
    {{11, 7.0 / 16}, {120, 265}, {240, 525}, {340, 750}, {190, 410}, {230, 502}},
    {{13, 1.0 / 2}, {150, 315}, {280, 625}, {440, 960}, {240, 525}, {300, 655}},
    {{16, 5.0 / 8}, {210, 465}, {420, 925}, {680, 1500}, {420, 935}, {510, 1130}},
    {{20, 3.0 / 4}, {290, 640}, {580, 1275}, {850, 1880}, {640, 1420}, {830, 1840}},
    {{25, 1}, {480, 1050}, {950, 2100}, {1500, 3300}, {1140, 2520}, {1470, 3250}}};

TEST(DefaultWll, FibreRope) {
  for (const RopeRow& row : kRope) {
    SCOPED_TRACE(row.size.mm);
    expect_row(M::kManila, row.size, row.manila, kMemory);
    expect_row(M::kPolypropylene, row.size, row.polypropylene, kMemory);
    expect_row(M::kPolyester, row.size, row.polyester, kMemory);
    expect_row(M::kNylon, row.size, row.nylon, kMemory);
    expect_row(M::kDoubleNylon, row.size, row.double_nylon, kMemory);
  }
}

// Steel strapping: pounds [V2], mm and kg [M].
TEST(DefaultWll, SteelStrapping) {
  struct Row {
    Size width, thickness;
    Pair printed;
  };
  constexpr Row kRows[] = {
      {{31.7, 1.25}, {0.74, 0.029}, {540, 1190}}, {{31.7, 1.25}, {0.79, 0.031}, {540, 1190}},
      {{31.7, 1.25}, {0.89, 0.035}, {540, 1190}}, {{31.7, 1.25}, {1.12, 0.044}, {770, 1690}},
      {{31.7, 1.25}, {1.27, 0.05}, {770, 1690}},  {{31.7, 1.25}, {1.5, 0.057}, {870, 1925}},
      {{50.8, 2}, {1.12, 0.044}, {1200, 2650}},   {{50.8, 2}, {1.27, 0.05}, {1200, 2650}}};
  for (const Row& row : kRows) {
    SCOPED_TRACE(row.thickness.inch);
    for (const auto& [width, thickness] : {std::pair{mm_um(row.width), mm_um(row.thickness)},
                                           std::pair{inch_um(row.width), inch_um(row.thickness)}}) {
      const auto found = printed_strapping_wll(width, thickness);
      ASSERT_TRUE(found);
      EXPECT_EQ(found->kg, row.printed.kg);
      EXPECT_EQ(found->lb, row.printed.lb);
      EXPECT_EQ(found->standing, kMemory);
    }
  }
  EXPECT_FALSE(printed_strapping_wll(31'600, 1'500));
  EXPECT_FALSE(printed_strapping_wll(31'700, 700));
  EXPECT_EQ(printed_strapping_wll(50'800, 890)->kg, 540);
  EXPECT_EQ(kLargestStrappingKg, 1200);
}

// Marks embossed on chain, as 393.108 prints them [V].
TEST(DefaultWll, ChainMarks) {
  struct Row {
    M chain;
    const char* marks[3];
  };
  for (const Row& row : {Row{M::kChain30, {"3", "30", "300"}},
                         {M::kChain43, {"4", "43", "430"}},
                         {M::kChain70, {"7", "70", "700"}},
                         {M::kChain80, {"8", "80", "800"}},
                         {M::kChain100, {"10", "100", "1000"}}})
    for (const char* mark : row.marks) EXPECT_EQ(chain_of_mark(mark), row.chain) << mark;
  for (const char* other : {"", "5", "33", "070", " 70", "G70"})
    EXPECT_FALSE(chain_of_mark(other)) << other;
}

// 393.108(c) to (f) [V]: unknown chain is grade 30, unknown cordage polypropylene, unmarked wire
// rope of known construction a quarter of its nominal strength.
TEST(DefaultWll, UnmarkedMaterial) {
  EXPECT_EQ(kUnknownChain, M::kChain30);
  EXPECT_EQ(kUnknownCordage, M::kPolypropylene);
  EXPECT_EQ(kWireRopeShareOfStrength, 0.25);
}

// Between two printed sizes the smaller counts; below the smallest nothing is printed. The step
// down is common practice, no source.
TEST(DefaultWll, BetweenAndBelow) {
  EXPECT_EQ(default_wll_kg(M::kWebbing, 49'999), 790);
  EXPECT_EQ(default_wll_kg(M::kWebbing, 74'999), 910);
  EXPECT_EQ(default_wll_kg(M::kWebbing, 250'000), 1810);
  EXPECT_FALSE(default_wll_kg(M::kWebbing, 25'400));
  EXPECT_FALSE(default_wll_kg(M::kWebbing, 44'449));
  EXPECT_FALSE(default_wll_kg(M::kChain70, 6'349));
  EXPECT_FALSE(default_wll_kg(M::kWireRope, 6'349));
  EXPECT_FALSE(default_wll_kg(M::kManila, 9'524));
  EXPECT_FALSE(default_wll_kg(M::kWebbing, 0));
  EXPECT_FALSE(default_wll_kg(M::kWebbing, -1));
}

// Neither column is the other converted. Of chain and webbing, seven printed pairs are more than
// 12 kg from exact conversion [C], and these are they; all fibre rope kg are pounds x 0.4536 within
// the printed rounding of 10 kg [C].
TEST(DefaultWll, RoundingTrap) {
  std::vector<std::pair<int, int>> far;
  const auto look = [&](const Pair& pair) {
    if (std::abs(pair.kg - pair.lb * kKgPerLb) > 12) far.emplace_back(pair.kg, pair.lb);
  };
  for (const ChainRow& row : kChain) {
    for (const Pair& pair :
         {row.proof_30, row.high_43, row.transport_70, row.alloy_80, row.alloy_100})
      look(pair);
  }
  for (const Pair& pair : {Pair{790, 1750}, {910, 2000}, {1360, 3000}, {1810, 4000}}) look(pair);
  const std::vector<std::pair<int, int>> kFar{{1570, 3500},  {2000, 4500},  {2600, 5700},
                                              {3200, 7100},  {5400, 12000}, {5910, 13000},
                                              {10300, 22600}};
  std::ranges::sort(far);
  EXPECT_EQ(far, kFar);
  for (const RopeRow& row : kRope) {
    for (const Pair& pair :
         {row.manila, row.polypropylene, row.polyester, row.nylon, row.double_nylon})
      EXPECT_NEAR(pair.kg, pair.lb * kKgPerLb, 10);
  }
}

}  // namespace
}  // namespace fairlead::physics
