// 49 CFR 393.108 "Default working load limits", kg column as printed, whole. Marks: [V] read on the
// page of that name, [V2] pound column read in a second transcription only, [M] from memory.
#include "daemon/physics/default_wll.h"

#include <gtest/gtest.h>

namespace fairlead::physics {
namespace {

using M = TiedownMaterial;
constexpr int kDash = 0;

// Millimetres and inches as printed; a piece of either printing takes the row.
struct Size {
  double mm, inch;
};
int64_t mm_um(const Size& size) { return static_cast<int64_t>(size.mm * 1000 + 0.5); }
int64_t inch_um(const Size& size) { return static_cast<int64_t>(size.inch * 25'400 + 0.5); }

void expect_row(M material, const Size& size, int kg) {
  for (const int64_t um : {mm_um(size), inch_um(size)}) {
    const auto found = default_wll_kg(material, um);
    if (kg == kDash) {
      EXPECT_FALSE(found) << um;
    } else {
      EXPECT_EQ(found, kg) << um;
    }
  }
}

// Chain [V]. At 8 mm grade 80 stands below grade 70, as printed.
TEST(DefaultWll, Chain) {
  struct Row {
    Size size;
    int proof_30, high_43, transport_70, alloy_80, alloy_100;
  };
  constexpr Row kRows[] = {{{7, 1.0 / 4}, 580, 1180, 1430, 1570, 1950},
                           {{8, 5.0 / 16}, 860, 1770, 2130, 2000, 2600},
                           {{10, 3.0 / 8}, 1200, 2450, 2990, 3200, 4000},
                           {{11, 7.0 / 16}, 1680, 3270, 3970, kDash, kDash},
                           {{13, 1.0 / 2}, 2030, 4170, 5130, 5400, 6800},
                           {{16, 5.0 / 8}, 3130, 5910, 7170, 8200, 10300}};
  for (const Row& row : kRows) {
    SCOPED_TRACE(row.size.mm);
    expect_row(M::kChain30, row.size, row.proof_30);
    expect_row(M::kChain43, row.size, row.high_43);
    expect_row(M::kChain70, row.size, row.transport_70);
    expect_row(M::kChain80, row.size, row.alloy_80);
    expect_row(M::kChain100, row.size, row.alloy_100);
  }
  EXPECT_EQ(largest_default_wll_kg(M::kChain30), 3130);
  EXPECT_EQ(largest_default_wll_kg(M::kChain100), 10300);
}

// Synthetic webbing [V].
TEST(DefaultWll, Webbing) {
  expect_row(M::kWebbing, {45, 1.75}, 790);
  expect_row(M::kWebbing, {50, 2}, 910);
  expect_row(M::kWebbing, {75, 3}, 1360);
  expect_row(M::kWebbing, {100, 4}, 1810);
  EXPECT_EQ(largest_default_wll_kg(M::kWebbing), 1810);
}

// Wire rope, 6 x 37 fibre core: to 20 mm [V]; 22 and 25 mm [pounds V2, kg M].
TEST(DefaultWll, WireRope) {
  expect_row(M::kWireRope, {7, 1.0 / 4}, 640);
  expect_row(M::kWireRope, {8, 5.0 / 16}, 950);
  expect_row(M::kWireRope, {10, 3.0 / 8}, 1360);
  expect_row(M::kWireRope, {11, 7.0 / 16}, 1860);
  expect_row(M::kWireRope, {13, 1.0 / 2}, 2400);
  expect_row(M::kWireRope, {16, 5.0 / 8}, 3770);
  expect_row(M::kWireRope, {20, 3.0 / 4}, 4940);
  expect_row(M::kWireRope, {22, 7.0 / 8}, 7300);
  expect_row(M::kWireRope, {25, 1}, 9480);
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
}

}  // namespace
}  // namespace fairlead::physics
