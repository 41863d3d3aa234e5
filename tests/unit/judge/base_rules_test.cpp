// The rules of securement that a base goes by, a setting in its register: findings name them, and
// rules that ask for forces are not shown by a sum of ratings. And what the register makes of gear
// without a rating on it.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "daemon/judge/register_book.h"
#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

RegisterBook book_of(const std::string& text) {
  auto book = RegisterBook::compile({{"r.textproto", text}});
  EXPECT_TRUE(book) << (book ? "" : book.error().message);
  return book ? *book : RegisterBook();
}

// Four straps SAME_SIDE of 1,000 kg under 4,000 kg: 393.106(d) is met with nothing to spare.
std::vector<Finding> judged_under(const std::string& base, const std::string& wll = "1000 kg") {
  const std::string rule =
      "id: \"test\" version: \"1\" title: \"test\"\n"
      "phase { id: \"driving\" opens: \"truck.moving.on\" closes: \"truck.moving.off\" "
      "longest: \"4 h\" }\n"
      "rule { " +
      rule_head("strong") +
      "enough_strength { phase: \"driving\" of: \"tiedowns\" times_mass: \"0.5\" least_count: 4 } "
      "}";
  std::string text = base + "\nvehicle { id: \"car\" mass: \"4000 kg\" }\n";
  for (const char* wheel : {"LF", "RF", "LR", "RR"})
    text += fmt::format("gear {{ id: \"s-{}\" kind: WEBBING width: \"50 mm\" wll: \"{}\" }}\n",
                        wheel, wll);
  auto loaded = Rulebook::load({{"test.textproto", rule}}, {{"r.textproto", text}});
  EXPECT_TRUE(loaded) << (loaded ? "" : loaded.error().message);
  Lines lines{opened_line()};
  uint32_t seq = 1;
  for (const char* wheel : {"LF", "RF", "LR", "RR"})
    lines.push_back(line_at(10, "operator", ++seq,
                            fmt::format(R"("tiedown":{{"on":true,"gear":"s-{}","wheel":"{}",)"
                                        R"("path":"SAME_SIDE"}})",
                                        wheel, wheel)));
  lines.push_back(line_at(60, "operator", 6, R"("truckMotion":{"moving":true})"));
  lines.push_back(line_at(600, "operator", 7, R"("truckMotion":{"moving":false})"));
  lines.push_back(closed_line(700, 8));
  return judge_job(*loaded, lines);
}
std::string base_of(const std::string& rules) {
  return "base { id: \"b\" rules: \"" + rules + "\" }";
}

TEST(BaseRules, TheFindingNamesThem) {
  const auto plain = judged_under("");
  ASSERT_EQ(plain.size(), 2u);
  EXPECT_EQ(plain[0].verdict, Verdict::kMet);
  EXPECT_EQ(plain[0].sentence.find("goes by"), std::string::npos);
  for (const auto& [rules, words] :
       {std::pair{"us-49cfr", "the base goes by 49 CFR 393.100 to .136 (us-49cfr)"},
        std::pair{"ca-nsc10", "the base goes by NSC Standard 10 (ca-nsc10)"}}) {
    const auto found = judged_under(base_of(rules));
    EXPECT_EQ(found[0].verdict, Verdict::kMet);
    EXPECT_EQ(found[0].margin_best, plain[0].margin_best);
    EXPECT_NE(found[0].sentence.find(words), std::string::npos) << found[0].sentence;
    EXPECT_EQ(found[0].sentence.find("asks for the forces"), std::string::npos);
    EXPECT_NE(found[0].register_sha256, plain[0].register_sha256);
    EXPECT_EQ(judged_under(base_of(rules), "900 kg")[0].verdict, Verdict::kDeviated);
  }
}

// EN 12195-1 is about forces; no line of a job says where a strap pulls. Never met, never deviated
// by a sum; the number of pieces is the procedure's and judged as before.
TEST(BaseRules, ForcesAreNotShownByASum) {
  for (const auto& [rules, edition] : {std::pair{"en12195-2003", "EN 12195-1:2003"},
                                       std::pair{"en12195-2010", "EN 12195-1:2010"}}) {
    for (const char* wll : {"100 kg", "9000 kg"}) {
      const auto found = judged_under(base_of(rules), wll);
      EXPECT_EQ(found[0].verdict, Verdict::kUnproven);
      EXPECT_EQ(found[0].reason, Reason::kNoData);
      EXPECT_FALSE(found[0].margin_best);
      EXPECT_NE(found[0].sentence.find(edition), std::string::npos) << found[0].sentence;
      EXPECT_NE(found[0].sentence.find("asks for the forces"), std::string::npos);
      EXPECT_EQ(found[1].verdict, Verdict::kMet) << found[1].sentence;
    }
  }
}

TEST(BaseRules, MistakesAreNamed) {
  const auto one = register_problems("base { id: \"b\" rules: \"mars\" }\n");
  ASSERT_EQ(one.size(), 1u);
  EXPECT_EQ(one[0],
            "r.textproto:1:16: rules: 'mars' is no jurisdiction; use one of us-49cfr, ca-nsc10, "
            "en12195-2003, en12195-2010");
  const auto two = register_problems("base { id: \"b\" tiedowns: 3 }\nbase { id: \"c\" }\n");
  ASSERT_EQ(two.size(), 2u);
  EXPECT_NE(two[0].find("tiedowns: "), std::string::npos) << two[0];
  EXPECT_NE(two[1].find("stands twice"), std::string::npos) << two[1];
  EXPECT_EQ(book_of("base { tiedowns: 2 }").base()->tiedowns, physics::VehicleCount::kTwo);
  EXPECT_EQ(book_of("truck { id: \"t\" }").base(), nullptr);
}

// 49 CFR 393.108: steel strapping by width and thickness (kg column from memory), chain by the mark
// embossed on it (published).
TEST(UnmarkedGear, StrappingAndChainMarks) {
  const auto rating = [](const std::string& words) {
    const RegisterBook book = book_of("gear { id: \"g\" " + words + " }");
    return std::pair(book.gear("g")->wll.lo_g.value_or(-1), book.gear("g")->wll.hi_g.value_or(-1));
  };
  const auto exact = [](int64_t kg) { return std::pair(kg * 1000, kg * 1000); };
  EXPECT_EQ(rating("kind: STEEL_STRAPPING width: \"31.7 mm\" thickness: \"1.5 mm\""), exact(870));
  EXPECT_EQ(rating("kind: STEEL_STRAPPING width: \"1.25 in\" thickness: \"0.029 in\""), exact(540));
  EXPECT_EQ(rating("kind: STEEL_STRAPPING width: \"50.8 mm\" thickness: \"1.12 mm\""), exact(1200));
  // Unread: nothing surely, the table's largest at most.
  EXPECT_EQ(rating("kind: STEEL_STRAPPING width: \"31.7 mm\""), std::pair(int64_t{-1}, 1'200'000l));
  for (const char* mark : {"8", "80", "800"})
    EXPECT_EQ(rating(fmt::format("kind: CHAIN width: \"10 mm\" grade: \"{}\"", mark)), exact(3200));
  EXPECT_EQ(rating("kind: CHAIN width: \"10 mm\" grade: \"gold\""), exact(1200));  // As grade 30.
}

// Rigging that runs out overnight stops to count at midnight, as tiedowns do.
TEST(UnmarkedGear, RiggingRunsOutInUse) {
  const std::string rule =
      "id: \"test\" version: \"1\" title: \"test\"\n"
      "phase { id: \"driving\" opens: \"truck.moving.on\" closes: \"truck.moving.off\" "
      "longest: \"4 h\" }\n"
      "rule { " +
      rule_head("strong") +
      "enough_strength { phase: \"driving\" of: \"rigging\" times_mass: \"0.5\" } }";
  const std::string text =
      "vehicle { id: \"car\" mass: \"4000 kg\" }\n"
      "gear { id: \"soft\" kind: SOFT_SHACKLE wll: \"3000 kg\" inspect_by: \"2026-03-02\" }\n";
  auto loaded = Rulebook::load({{"test.textproto", rule}}, {{"r.textproto", text}});
  ASSERT_TRUE(loaded) << loaded.error().message;
  const auto judged = [&](double drive_end) {
    Lines lines{opened_line(),
                line_at(5, "operator", 2,
                        R"("rigging":{"on":true,"point":"eye","gear":["soft"],"legsAngleDeg":0})"),
                line_at(60, "operator", 3, R"("truckMotion":{"moving":true})"),
                line_at(drive_end, "operator", 4, R"("truckMotion":{"moving":false})"),
                closed_line(drive_end + 10, 5)};
    return judge_job(*loaded, lines)[0];
  };
  EXPECT_EQ(judged(14.0 * 3600 - 60).verdict, Verdict::kMet);
  EXPECT_EQ(judged(14.0 * 3600 + 60).verdict, Verdict::kDeviated) << judged(14.0 * 3600).sentence;
}

}  // namespace
}  // namespace fairlead::judge
