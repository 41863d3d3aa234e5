// What a plugin prints, cut to size (own rule: 500 bytes a line, 20 lines a second).
#include "daemon/sensors/output_lines.h"

#include <gtest/gtest.h>

namespace fairlead::sensors {
namespace {

constexpr int64_t kS = 1'000'000;

TEST(OutputLinesTest, JoinsPiecesIntoLines) {
  OutputLines lines;
  EXPECT_TRUE(lines.add("half", 0).empty());
  EXPECT_EQ(lines.add(" and half\nnext\nrest", 0),
            (std::vector<std::string>{"half and half", "next"}));
  EXPECT_EQ(lines.rest(0), (std::vector<std::string>{"rest"}));
}

TEST(OutputLinesTest, CutsLongLinesAndKeepsMemoryBounded) {
  OutputLines lines;
  lines.add(std::string(1 << 20, 'x'), 0);
  auto out = lines.add("\n", 0);
  ASSERT_EQ(out.size(), 1U);
  EXPECT_EQ(out[0], std::string(500, 'x') + "...");
}

TEST(OutputLinesTest, CapsAFloodAndSaysHowMuchWasLeftOut) {
  OutputLines lines;
  std::string flood;
  for (int i = 0; i < 1000; ++i) flood += "again\n";
  EXPECT_EQ(lines.add(flood, 0).size(), 20U);
  auto later = lines.add("calm\n", kS);
  ASSERT_EQ(later.size(), 2U);
  EXPECT_EQ(later[0], "(980 lines left out)");
  EXPECT_EQ(later[1], "calm");
}

TEST(OutputLinesTest, ControlCharactersCannotForgeLogLines) {
  OutputLines lines;
  auto out = lines.add(std::string("a\rb\x1b[31m\xff\n"), 0);
  ASSERT_EQ(out.size(), 1U);
  EXPECT_EQ(out[0], "a?b?[31m?");
}

}  // namespace
}  // namespace fairlead::sensors
