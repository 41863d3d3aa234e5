// The allegation table: the shipped one is whole, a faulty one is refused with place and remedy.
#include <gmock/gmock.h>

#include "reports/claim/allegation_table.h"

namespace fairlead::reports {
namespace {

using testing::HasSubstr;

constexpr const char* kGood = R"(version: "1"
kind { id: "x" title: "X" words: "bump" about: HARM rule { id: "speed" bears: CORE }
  text { shows: NOT_SHOWN say: "Not shown at {place}." } settle: "The car's log for {span}." })";

std::string refused(const std::string& text) {
  const auto table = read_allegation_table(text, "own.textproto");
  EXPECT_FALSE(table.has_value());
  return table.has_value() ? "" : table.error().message;
}

std::string replaced(std::string text, const std::string& old, const std::string& fresh) {
  const size_t at = text.find(old);
  EXPECT_NE(at, std::string::npos) << old;
  return text.replace(at, old.size(), fresh);
}

TEST(AllegationTable, ShippedTableHoldsTheTenKindsAndMore) {
  const auto table = shipped_allegation_table();
  ASSERT_TRUE(table.has_value()) << table.error().message;
  for (const char* id :
       {"marks", "underside", "wheels", "attachment", "drive_unit", "electronics", "opening",
        "shifted", "missing", "wrong_or_late", "wheels_locked", "driven_wheels", "steering",
        "glass", "fire", "third_party", "lot_damage"}) {
    EXPECT_TRUE(find_kind(*table, id).has_value()) << id;
  }
  EXPECT_EQ(table->sha256.size(), 64u);
}

TEST(AllegationTable, FormErrorsNameLineAndColumn) {
  ASSERT_TRUE(read_allegation_table(kGood, "own.textproto").has_value());
  EXPECT_THAT(refused(replaced(kGood, "title: \"X\"", "titel: \"X\"")),
              HasSubstr("own.textproto:2:"));
}

TEST(AllegationTable, MeaningErrorsNameKindAndRemedy) {
  EXPECT_THAT(refused(replaced(kGood, "{place}", "{pace}")),
              HasSubstr("kind x: unknown placeholder {pace}; use rule:ID:value"));
  EXPECT_THAT(refused(replaced(kGood, "about: HARM", "")), HasSubstr("say ACT or HARM"));
  EXPECT_THAT(refused(replaced(kGood, "bears: CORE", "")), HasSubstr("say CORE, PART or PROOF"));
  EXPECT_THAT(refused(replaced(kGood, "settle: \"The car's log for {span}.\"", "")),
              HasSubstr("nothing would settle it"));
  EXPECT_THAT(refused(replaced(kGood, "NOT_SHOWN", "FOR_IT")), HasSubstr("no NOT_SHOWN text"));
  EXPECT_THAT(refused(std::string(kGood) + std::string(kGood).substr(13)),
              HasSubstr("stands twice"));
}

TEST(AllegationTable, UnknownKindListsTheKnownOnes) {
  const auto table = read_allegation_table(kGood, "own.textproto");
  const auto kind = find_kind(*table, "y");
  ASSERT_FALSE(kind.has_value());
  EXPECT_THAT(kind.error().message, HasSubstr("use one of x"));
}

TEST(AllegationTable, WordsOfAClaimantFindTheKind) {
  const auto table = shipped_allegation_table();
  EXPECT_EQ(guess_kind(*table, "My GEARBOX whines, he dragged it")->id(), "drive_unit");
  EXPECT_EQ(guess_kind(*table, "zzz"), nullptr);
}

}  // namespace
}  // namespace fairlead::reports
