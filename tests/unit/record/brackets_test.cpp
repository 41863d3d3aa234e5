// Brackets on cases worked out by hand, by the definition in brackets.h; no published source.
#include "daemon/record/brackets.h"

#include <gtest/gtest.h>

namespace fairlead::record {
namespace {

using Times = std::vector<uint64_t>;

// Heads over 10, 20, 30 leaves, cosigned at 1000, 2000, 3000 s; entered in the log at leaves 12, 22
// and 34.
const std::vector<CosignedHead> kDaily = {
    {10, 12, Times{1'000}}, {20, 22, Times{2'000}}, {30, 34, Times{3'000}}};

void expect(const Bracket& bracket, std::optional<uint64_t> not_before,
            std::optional<uint64_t> not_after) {
  EXPECT_EQ(bracket.not_before_s, not_before);
  EXPECT_EQ(bracket.not_after_s, not_after);
}

TEST(Brackets, NewestSeenAndFirstCovering) {
  // Had seen head 13, which covers the entry at leaf 12; stands at leaf 15: head 20 is the first.
  expect(bracket_of(kDaily, 13, 15), 1'000, 2'000);
  expect(bracket_of(kDaily, 28, 29), 2'000, 3'000);
  expect(bracket_of(kDaily, 35, 36), 3'000, std::nullopt);
}

TEST(Brackets, ASeenHeadThatDoesNotCoverTheCosignatureProvesNothing) {
  // Size 12 is larger than the cosigned 10 and covers leaves 0 to 11, not leaf 12: the device may
  // have seen it before the cosignature was made.
  expect(bracket_of(kDaily, 12, 15), std::nullopt, 2'000);
  expect(bracket_of(kDaily, 10, 15), std::nullopt, 2'000);
  expect(bracket_of(kDaily, 0, 15), std::nullopt, 2'000);
}

TEST(Brackets, EdgesOfCovering) {
  expect(bracket_of(kDaily, 0, 9), std::nullopt, 1'000);   // The last leaf under head 10.
  expect(bracket_of(kDaily, 0, 10), std::nullopt, 2'000);  // The first that is not.
  expect(bracket_of(kDaily, 0, 30), std::nullopt, std::nullopt);
}

TEST(Brackets, AHeadWithoutItsEntryBoundsFromAboveOnly) {
  const std::vector<CosignedHead> heads = {{10, std::nullopt, Times{1'000}}};
  expect(bracket_of(heads, 100, 5), std::nullopt, 1'000);
}

TEST(Brackets, ALaterCosignatureOfAnOlderHeadDoesNotWidenTheBracket) {
  // Head 20 was cosigned again much later: the earlier word still bounds from above, the later one
  // from below.
  const std::vector<CosignedHead> heads = {{20, 22, Times{2'000}}, {20, 40, Times{9'000}}};
  expect(bracket_of(heads, 41, 15), 9'000, 2'000);  // A contradiction is shown as it is.
  expect(bracket_of(heads, 23, 15), 2'000, 2'000);
}

TEST(Brackets, AThresholdCountsTheMoreCarefulWords) {
  const std::vector<CosignedHead> heads = {{10, 12, Times{1'000, 1'050, 1'200}}};
  expect(bracket_of(heads, 13, 5, 1), 1'200, 1'000);
  expect(bracket_of(heads, 13, 5, 2), 1'050, 1'050);
  expect(bracket_of(heads, 13, 5, 3), 1'000, 1'200);
  expect(bracket_of(heads, 13, 5, 4), std::nullopt, std::nullopt);
  expect(bracket_of({}, 13, 5), std::nullopt, std::nullopt);
}

}  // namespace
}  // namespace fairlead::record
