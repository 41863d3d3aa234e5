// Finding lines come out as they went in, and take little room.
#include "daemon/watch/finding_lines.h"

#include <gtest/gtest.h>

namespace fairlead::watch {
namespace {

TEST(FindingLines, NoneIsEmpty) {
  EXPECT_TRUE(FindingLines().empty());
  EXPECT_TRUE(FindingLines(std::vector<std::string>{}).empty());
  EXPECT_EQ(FindingLines().size(), 0U);
  EXPECT_TRUE(FindingLines().lines().empty());
}

TEST(FindingLines, ComeOutAsTheyWentInFromEveryCopy) {
  std::vector<std::string> lines = {"", "a", std::string(3, '\0') + "\n\n",
                                    std::string(5'000, 'x')};
  for (int i = 0; i < 40; ++i) lines.push_back(R"({"rule":"R)" + std::to_string(i) + R"("})");
  const FindingLines packed(lines);
  const FindingLines copy = packed;
  lines.clear();
  EXPECT_FALSE(copy.empty());
  EXPECT_EQ(copy.size(), 44U);
  ASSERT_EQ(copy.lines().size(), 44U);
  EXPECT_EQ(copy.lines()[2], std::string(3, '\0') + "\n\n");
  EXPECT_EQ(copy.lines(), packed.lines());
  EXPECT_EQ(copy.lines().back(), R"({"rule":"R39"})");
}

TEST(FindingLines, OneEmptyLineIsNotNone) {
  const FindingLines one(std::vector<std::string>{""});
  EXPECT_FALSE(one.empty());
  EXPECT_EQ(one.lines(), std::vector<std::string>{""});
}

}  // namespace
}  // namespace fairlead::watch
