// Modbus registers as values. Sources: Modbus Application Protocol V1.1b3 (big-endian registers,
// 125 registers a read), IEEE 754 single precision (1234.5 = 0x449A5000, worked by hand below).
#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <limits>

#include "plugins/line/protocol.h"

namespace fairlead::line {
namespace {

Register float_register(Order order) {
  Register r;
  r.type = Type::kFloat32;
  r.order = order;
  return r;
}

// 1234.5 = 1.20556640625 x 2^10: sign 0, exponent 137 = 0x89, fraction 0x1A5000 -> 0x449A5000.
TEST(LineProtocolTest, FloatIn449A5000IsTwelveThirtyFourPointFive) {
  struct Case {
    Order order;
    std::array<uint16_t, 2> words;
  };
  for (const Case& c :
       {Case{Order::kAbcd, {0x449A, 0x5000}}, Case{Order::kCdab, {0x5000, 0x449A}},
        Case{Order::kBadc, {0x9A44, 0x0050}}, Case{Order::kDcba, {0x0050, 0x9A44}}}) {
    EXPECT_EQ(evaluate(float_register(c.order), c.words).value, 1234.5);
  }
}

TEST(LineProtocolTest, WordOrdersAreFourDifferentReadings) {
  EXPECT_EQ(join_words(0x0102, 0x0304, Order::kAbcd), 0x01020304U);
  EXPECT_EQ(join_words(0x0102, 0x0304, Order::kCdab), 0x03040102U);
  EXPECT_EQ(join_words(0x0102, 0x0304, Order::kBadc), 0x02010403U);
  EXPECT_EQ(join_words(0x0102, 0x0304, Order::kDcba), 0x04030201U);
}

TEST(LineProtocolTest, WholeNumbersKeepTheirSign) {
  Register r;
  std::array<uint16_t, 1> word{0xFFFE};
  r.type = Type::kInt16;
  EXPECT_EQ(evaluate(r, word).value, -2);
  r.type = Type::kUint16;
  EXPECT_EQ(evaluate(r, word).value, 65534);
  std::array<uint16_t, 2> words{0xFFFF, 0xFFFE};
  r.type = Type::kInt32;
  EXPECT_EQ(evaluate(r, words).value, -2);
  r.type = Type::kUint32;
  EXPECT_EQ(evaluate(r, words).value, 4294967294.0);
}

TEST(LineProtocolTest, ScaleAndOffset) {
  Register r;
  r.scale = 0.01;
  r.offset = -1.5;
  EXPECT_DOUBLE_EQ(evaluate(r, std::array<uint16_t, 1>{1100}).value, 9.5);
}

TEST(LineProtocolTest, OverloadAndBrokenCodesAreQualityNotNumbers) {
  Register r;
  r.overload = {32767};
  r.broken = {-32768};
  EXPECT_EQ(evaluate(r, std::array<uint16_t, 1>{0x7FFF}).quality, v1::Quality::OVERLOAD);
  EXPECT_EQ(evaluate(r, std::array<uint16_t, 1>{0x8000}).quality, v1::Quality::BROKEN);
  EXPECT_EQ(evaluate(r, std::array<uint16_t, 1>{0x7FFE}).quality, v1::Quality::GOOD);
}

TEST(LineProtocolTest, NotANumberStaysNotANumber) {
  // 0x7FC00000 is the quiet NaN, 0x7F800000 infinity (IEEE 754).
  EXPECT_TRUE(
      std::isnan(evaluate(float_register(Order::kAbcd), std::array<uint16_t, 2>{0x7FC0, 0}).value));
  EXPECT_EQ(evaluate(float_register(Order::kAbcd), std::array<uint16_t, 2>{0x7F80, 0}).value,
            std::numeric_limits<double>::infinity());
}

TEST(LineProtocolTest, NeighboursAreReadTogether) {
  std::vector<Register> map(5);
  map[0].address = 10;
  map[0].type = Type::kFloat32;
  map[1].address = 12;
  map[2].address = 14;  // Register 13 is nobody's: reading it may be refused.
  map[3].address = 13;
  map[3].kind = Kind::kHolding;
  map[4].address = 15;
  map[4].device = 2;
  auto blocks = plan_reads(map);
  ASSERT_EQ(blocks.size(), 4U);
  EXPECT_EQ(blocks[0].address, 10);
  EXPECT_EQ(blocks[0].count, 3);
  EXPECT_EQ(blocks[0].members, (std::vector<size_t>{0, 1}));
  EXPECT_EQ(blocks[1].address, 14);
  EXPECT_EQ(blocks[2].kind, Kind::kHolding);
  EXPECT_EQ(blocks[3].device, 2);
}

TEST(LineProtocolTest, ARequestStaysWithin125Registers) {
  std::vector<Register> map(100);
  for (int i = 0; i < 100; ++i) {
    map[static_cast<size_t>(i)].address = 2 * i;
    map[static_cast<size_t>(i)].type = Type::kInt32;
  }
  size_t members = 0;
  for (const Block& block : plan_reads(map)) {
    EXPECT_LE(block.count, 125);
    members += block.members.size();
    for (size_t m : block.members) {
      EXPECT_GE(map[m].address, block.address);
      EXPECT_LE(map[m].address + 2, block.address + block.count);
    }
  }
  EXPECT_EQ(members, 100U);
}

TEST(LineProtocolTest, TheSameRegisterMayFeedTwoSignals) {
  std::vector<Register> map(2);
  map[1].type = Type::kInt32;
  auto blocks = plan_reads(map);
  ASSERT_EQ(blocks.size(), 1U);
  EXPECT_EQ(blocks[0].count, 2);
  EXPECT_EQ(blocks[0].members.size(), 2U);
}

TEST(LineProtocolTest, BitsOfRegistersInputsAndCoils) {
  Register r;
  r.type = Type::kBit;
  r.bit = 3;
  EXPECT_EQ(evaluate(r, std::array<uint16_t, 1>{0x0008}).value, 1);
  EXPECT_EQ(evaluate(r, std::array<uint16_t, 1>{0xFFF7}).value, 0);
  r.kind = Kind::kDiscrete;
  r.bit = 0;
  r.scale = -1;  // A contact that opens when the jaw bites.
  r.offset = 1;
  EXPECT_EQ(evaluate(r, std::array<uint16_t, 1>{1}).value, 0);
  EXPECT_EQ(evaluate(r, std::array<uint16_t, 1>{0}).value, 1);
}

// (reading - zero) x span: the straight line through (12, 0) and (4,915, 4,903.325), the second the
// weight of 500 kg at 9.80665 m/s2 (standard acceleration, CGPM 1901).
TEST(LineProtocolTest, TwoPointCalibration) {
  auto c = physics::two_point({0, 12, 0.5}, {4903.325, 4915, 0.5});
  ASSERT_TRUE(c) << c.error().message;
  EXPECT_DOUBLE_EQ(c->zero, 12);
  EXPECT_DOUBLE_EQ(c->span, 4903.325 / 4903);
  Register r;
  r.type = Type::kUint16;
  r.calibration = *c;
  EXPECT_DOUBLE_EQ(evaluate(r, std::array<uint16_t, 1>{12}).value, 0);
  EXPECT_DOUBLE_EQ(evaluate(r, std::array<uint16_t, 1>{4915}).value, 4903.325);
  EXPECT_NEAR(physics::uncalibrated(*c, 4903.325), 4915, 1e-9);
  // The low point need not be zero: (110, 100) and (1,110, 1,100) is span 1, zero 10.
  auto lifted = physics::two_point({100, 110, 0}, {1100, 1110, 0});
  EXPECT_DOUBLE_EQ(lifted->zero, 10);
  EXPECT_DOUBLE_EQ(lifted->span, 1);
}

TEST(LineProtocolTest, ACalibrationThatCannotBeIsRefused) {
  EXPECT_FALSE(physics::two_point({0, 10, 0}, {0, 20, 0})) << "one load";
  EXPECT_FALSE(physics::two_point({0, 10, 5}, {1000, 60, 5})) << "50 apart, sd 7.07";
  EXPECT_TRUE(physics::two_point({0, 10, 5}, {100, 82, 5})) << "72 apart";
  EXPECT_FALSE(physics::two_point({0, 0, 0}, {1000, 100, 0})) << "span 10: the scale is wrong";
  EXPECT_FALSE(physics::two_point({0, 0, 0}, {1000, 0, 0}));
  EXPECT_FALSE(physics::two_point({0, NAN, 0}, {1000, 900, 0}));
}

TEST(LineProtocolTest, TheCalibrationsTextReadsBack) {
  physics::Calibration c{"C-17", "2026-03-02", -12.5, 1.0031};
  EXPECT_EQ(physics::calibration_text(c), "C-17 of 2026-03-02; zero -12.5; span 1.0031");
  auto back = physics::calibration_from_text(physics::calibration_text(c));
  ASSERT_TRUE(back);
  EXPECT_EQ(back->certificate, "C-17");
  EXPECT_EQ(back->date, "2026-03-02");
  EXPECT_EQ(back->zero, -12.5);
  EXPECT_EQ(back->span, 1.0031);
  EXPECT_FALSE(physics::calibration_from_text("C-17"));
  EXPECT_FALSE(physics::calibration_from_text("C-17 of 2026-03-02; zero x; span 1"));
}

// Worked by hand: drum 100 mm, rope 10 mm, 5 turns a layer. Turns of layer 1: pi x 110 mm =
// 0.345575 m, five 1.727876 m; of layer 2: pi x 130 mm = 0.408407 m. With 2.544690 m on it (five
// turns of layer 1 and two of layer 2) three turns pay out two of layer 2 and one of layer 1.
TEST(LineProtocolTest, RopeOutByTheTurnsOfADrum) {
  auto rope = rope_on({100, 50, 10, 2.544690});
  ASSERT_TRUE(rope) << rope.error().message;
  EXPECT_NEAR(rope_out_m(*rope, 0), 0, 1e-12);
  EXPECT_NEAR(rope_out_m(*rope, 1), 0.408407, 1e-6);
  EXPECT_NEAR(rope_out_m(*rope, 3), 2 * 0.408407 + 0.345575, 2e-6);
  EXPECT_NEAR(rope_out_m(*rope, -1), -0.408407, 1e-6);
  EXPECT_NEAR(rope_out_m(*rope, 100), 2.544690, 1e-12);
  double last = -1;
  for (double turns = 0; turns < 7; turns += 0.1) {
    double out = rope_out_m(*rope, turns);
    EXPECT_GT(out, last);
    last = out;
  }
  EXPECT_FALSE(rope_on({100, 5, 10, 10})) << "narrower than the rope";
}

TEST(LineFilterTest, AMedianTakesOutASpikeAndKeepsAnEdge) {
  FilterState f(Filter{Filter::Kind::kMedian3, 0});
  std::vector<double> out;
  for (double v : {1.0, 1.0, 900.0, 1.0, 1.0, 5.0, 5.0, 5.0}) out.push_back(f.next(v, 0));
  EXPECT_EQ(out, (std::vector<double>{1, 1, 1, 1, 1, 1, 5, 5}));
}

// A first-order low-pass has gone 1 - 1/e = 63.2 % of a step after its time constant, 95.0 % after
// three (any textbook), whatever the steps in between.
TEST(LineFilterTest, ALowPassStepsByItsTimeConstant) {
  FilterState f(Filter{Filter::Kind::kLowPass, 200'000});
  EXPECT_EQ(f.next(0, 0), 0) << "begins where the value is";
  EXPECT_NEAR(f.next(1000, 200'000), 632.1, 0.1);
  FilterState fine(Filter{Filter::Kind::kLowPass, 200'000});
  fine.next(0, 0);
  double y = 0;
  for (int i = 1; i <= 60; ++i) y = fine.next(1000, i * 10'000);
  EXPECT_NEAR(y, 950.2, 0.1);
  fine.forget();
  EXPECT_EQ(fine.next(3, 700'000), 3);
}

}  // namespace
}  // namespace fairlead::line
