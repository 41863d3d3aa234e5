// docs/attacks.md lists what attacks_*.cpp try, and nothing else. FAIRLEAD_WRITE_PAGES=1 writes the
// lists anew; the words around them are by hand.
#include <gtest/gtest.h>

#include <array>
#include <cstdlib>
#include <fstream>
#include <iterator>

#include "tests/unit/verify/attack_scene.h"

namespace fairlead {
namespace {

constexpr const char* kPage = "docs/attacks.md";

constexpr std::array kParties = {
    std::pair{By::kBundle, "bundle"},      std::pair{By::kPolicy, "policy"},
    std::pair{By::kSeenHead, "seen-head"}, std::pair{By::kCountersigner, "countersigner"},
    std::pair{By::kWords, "words"},
};

std::string row(const Attack& attack) {
  const bool under_all = attack.step == kAlways;
  return std::string("| ") + attack.name + " | " +
         (under_all ? "under every verdict" : "step " + std::to_string(attack.step)) + " | " +
         (*attack.words == '\0' ? "" : std::string("\"") + attack.words + "\"") + " |\n";
}

std::string list_of(By by) {
  std::string rows;
  size_t count = 0;
  for (const Attack& attack : all_attacks()) {
    if (attack.by != by) continue;
    rows += row(attack);
    ++count;
  }
  return std::to_string(count) + " of " + std::to_string(all_attacks().size()) +
         ".\n\n| lie | where it shows | words to look for |\n|---|---|---|\n" + rows;
}

// The page with every list between its two marks replaced.
std::string with_lists(std::string page) {
  for (const auto& [by, name] : kParties) {
    const std::string begin = std::string("<!-- ") + name + " -->\n", end = "<!-- end -->";
    const size_t from = page.find(begin);
    const size_t to = from == std::string::npos ? from : page.find(end, from);
    EXPECT_NE(to, std::string::npos) << kPage << " has no place for " << name;
    if (to == std::string::npos) continue;
    page.replace(from + begin.size(), to - from - begin.size(), list_of(by));
  }
  return page;
}

TEST(DishonestBase, ThePageListsEachLieAndWhoCanTell) {
  std::ifstream in(kPage, std::ios::binary);
  const std::string page((std::istreambuf_iterator<char>(in)), {});
  ASSERT_FALSE(page.empty()) << kPage;
  const std::string wanted = with_lists(page);
  if (std::getenv("FAIRLEAD_WRITE_PAGES") != nullptr)
    std::ofstream(kPage, std::ios::binary) << wanted;
  EXPECT_EQ(page, wanted)
      << "run this test once with FAIRLEAD_WRITE_PAGES=1 and look at the change";
}

}  // namespace
}  // namespace fairlead
