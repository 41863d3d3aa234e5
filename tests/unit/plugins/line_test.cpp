// Modbus registers as values. Sources: Modbus Application Protocol V1.1b3 (big-endian registers,
// 125 registers a read), IEEE 754 single precision (1234.5 = 0x449A5000, worked by hand below).
#include <gtest/gtest.h>

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

}  // namespace
}  // namespace fairlead::line
