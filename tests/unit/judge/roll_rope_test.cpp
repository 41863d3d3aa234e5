// Rope counter: the way is the sum of differences between turning points; noise makes none.
#include "daemon/physics/roll_rope.h"

#include <gtest/gtest.h>

#include <random>
#include <vector>

namespace fairlead::physics {
namespace {

constexpr int64_t kReversalMm = 116;  // 1.645 x 50 mm x sqrt 2

TEST(RopeWay, OneStraightPull) {
  const RopeWay way = rope_way(std::vector<int64_t>{20'000, 18'000, 15'500, 12'000}, kReversalMm);
  EXPECT_EQ(way.best_mm, 8'000);
  EXPECT_EQ(way.chords, 1);
}

TEST(RopeWay, OutAndBackAddsUp) {
  const RopeWay way =
      rope_way(std::vector<int64_t>{10'000, 7'000, 4'000, 6'000, 9'000, 8'000}, kReversalMm);
  EXPECT_EQ(way.best_mm, 6'000 + 5'000 + 1'000);
  EXPECT_EQ(way.chords, 3);
}

TEST(RopeWay, AReversalCountsOnlyBeyondTheNoise) {
  // 116 mm back is noise, and the chord runs through to the last reading; 117 mm back is a turn.
  const RopeWay noise = rope_way(std::vector<int64_t>{10'000, 7'000, 7'116, 5'000}, kReversalMm);
  EXPECT_EQ(noise.best_mm, 5'000);
  EXPECT_EQ(noise.chords, 1);
  const RopeWay turn = rope_way(std::vector<int64_t>{10'000, 7'000, 7'117, 5'000}, kReversalMm);
  EXPECT_EQ(turn.best_mm, 3'000 + 117 + 2'117);
  EXPECT_EQ(turn.chords, 3);
}

TEST(RopeWay, StandingInNoiseAddsNoWay) {
  std::mt19937_64 random(7);
  std::vector<int64_t> out;
  int64_t sum_of_steps = 0;
  for (int i = 0; i < 1'800; ++i) {
    out.push_back(15'000 + static_cast<int64_t>(random() % 81) - 40);
    if (i > 0) sum_of_steps += std::abs(out[out.size() - 1] - out[out.size() - 2]);
  }
  EXPECT_LE(rope_way(out, kReversalMm).best_mm, 80);
  EXPECT_GT(sum_of_steps, 40'000);  // What adding up every step would say.
}

TEST(RopeWay, NoiseBeforeThePullIsNoWay) {
  const RopeWay way =
      rope_way(std::vector<int64_t>{10'000, 10'090, 9'960, 10'100, 8'000, 6'000}, kReversalMm);
  EXPECT_EQ(way.best_mm, 4'000);
  EXPECT_EQ(way.chords, 1);
  // 116 mm is noise still, 117 mm is a way to turn back from.
  const RopeWay noise = rope_way(std::vector<int64_t>{10'000, 10'116, 8'000}, kReversalMm);
  EXPECT_EQ(noise.best_mm, 2'000);
  const RopeWay moved = rope_way(std::vector<int64_t>{10'000, 10'117, 8'000}, kReversalMm);
  EXPECT_EQ(moved.best_mm, 117 + 2'117);
  EXPECT_EQ(moved.chords, 2);
}

TEST(RopeWay, NothingAndOneReading) {
  EXPECT_EQ(rope_way({}, kReversalMm).best_mm, 0);
  EXPECT_EQ(rope_way({}, kReversalMm).chords, 0);
  EXPECT_EQ(rope_way(std::vector<int64_t>{5'000}, kReversalMm).best_mm, 0);
}

}  // namespace
}  // namespace fairlead::physics
