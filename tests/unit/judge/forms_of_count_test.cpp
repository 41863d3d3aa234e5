// count_limit, evidence_present, recheck_every, enough_strength, never_together: each verdict, each
// reason for unproven, a gap at each place, any order of arrival, the sentence.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "tests/unit/judge/judge_kit.h"

namespace fairlead::judge {
namespace {

using Words = std::vector<std::string>;

v1::Observation op(double second, uint32_t seq, const std::string& kind) {
  return line_at(second, "operator", seq, kind);
}
v1::Observation checked(double second, uint32_t seq) {
  return op(second, seq, R"("secured":{"checked":true})");
}
v1::Observation scene(double second, uint32_t seq, bool set) {
  return op(second, seq, fmt::format(R"("scene":{{"set":{}}})", set));
}
v1::Observation screen(double second, uint32_t seq, bool awake) {
  return op(second, seq, fmt::format(R"("screen":{{"awake":{}}})", awake));
}
v1::Observation note(double second, uint32_t seq) {
  return op(second, seq, R"("note":{"text":"nothing"})");
}
v1::Observation moving(double second, uint32_t seq, bool on) {
  return line_at(second, "gps.truck", seq, fmt::format(R"("truckMotion":{{"moving":{}}})", on));
}
v1::Observation photo(double second, uint32_t seq, const std::string& view) {
  return op(second, seq,
            fmt::format(R"("photo":{{"view":"{}","when":"BEFORE","sha256":"{}",)"
                        R"("mediaType":"image/jpeg"}})",
                        view, std::string(64, 'a')));
}
v1::Observation tied(double second, uint32_t seq, const std::string& gear, bool on) {
  return op(
      second, seq,
      fmt::format(R"("tiedown":{{"on":{},"gear":"{}","wheel":"LF","path":"ACROSS"}})", on, gear));
}

const std::string kSetPhase =
    "phase { id: \"set\" opens: \"scene.set.on\" closes: \"scene.set.off\" longest: \"1 h\" }\n";

std::string count_form(const std::string& bound) {
  return "count_limit { phase: \"set\" event: \"secured.checked\" " + bound + " }";
}

TEST(CountLimit, EachVerdict) {
  // Two checks while the scene is set, one after.
  const Lines lines{opened_line(),       scene(10, 2, true), checked(20, 3),     checked(40, 4),
                    scene(60, 5, false), checked(80, 6),     closed_line(200, 7)};
  const Finding met = judged_form(count_form("at_most: 3"), lines, kSetPhase);
  EXPECT_EQ(told(met), "met 1 1 1 items");
  EXPECT_EQ(sentence_of(met),
            "r met: 2 secured.checked in 'set', at 10:01:00, limit at most 3, 1 item inside; "
            "said; record: operator #2, #4, #5; settled");
  EXPECT_EQ(told(judged_form(count_form("at_most: 1"), lines, kSetPhase)),
            "deviated -1 -1 -1 items");
  EXPECT_EQ(told(judged_form(count_form("exactly: 2"), lines, kSetPhase)), "met 0 0 0 items");
  EXPECT_EQ(told(judged_form(count_form("exactly: 4"), lines, kSetPhase)),
            "deviated -2 -2 -2 items");
  EXPECT_EQ(told(judged_form(count_form("at_least: 2"), lines, kSetPhase)), "met 0 0 0 items");
  EXPECT_EQ(told(judged_form(count_form("at_least: 3"), lines, kSetPhase)),
            "deviated -1 -1 -1 items");
  EXPECT_EQ(told(judged_form(count_form("at_most: 1"),
                             {opened_line(), checked(20, 2), closed_line(90, 3)}, kSetPhase)),
            "no");
}

TEST(CountLimit, EachReason) {
  const Lines open{opened_line(), scene(10, 2, true), checked(20, 3), checked(40, 4)};
  EXPECT_EQ(told(judged_form(count_form("at_most: 3"), open, kSetPhase)),
            "unproven(not_yet) - 1 1 items");
  // One too many condemns though the phase is open; enough acquit.
  EXPECT_EQ(told(judged_form(count_form("at_most: 1"), open, kSetPhase)), "deviated - -1 -1 items");
  EXPECT_EQ(told(judged_form(count_form("at_least: 2"), open, kSetPhase)), "met 0 0 - items");
  // By a clock 5 s off either way, 2 s before the end.
  v1::Observation far = line_at(58, "probe", 1, R"("secured":{"checked":true})");
  far.set_clock("probe");
  far.set_time_uncertainty_ms(5000);
  EXPECT_EQ(told(judged_form(
                count_form("at_least: 1"),
                {opened_line(), scene(10, 2, true), far, scene(60, 3, false), closed_line(200, 4)},
                kSetPhase)),
            "unproven(clock_doubt) -1 0 0 items");
}

TEST(CountLimit, AGapAtEachPlaceAndAnyOrder) {
  const Lines lines{opened_line(),       scene(10, 2, true), checked(20, 3),     note(40, 4),
                    scene(60, 5, false), note(80, 6),        closed_line(200, 7)};
  EXPECT_EQ(with_each_lost(count_form("at_most: 1"), lines, kSetPhase),
            (Words{"operator 2: unknown(no_data)",
                   "operator 3: unknown(no_data)",  // it may have been set for an instant only
                   "operator 4: unproven(no_data) - 0 0 items",
                   "operator 5: unproven(no_data) - 0 0 items",
                   "operator 6: unproven(no_data) - 0 0 items"}));  // nor is its end sure
  expect_any_order(count_form("at_most: 1"), lines, kSetPhase);
}

TEST(CountLimit, AStayThatAGapMayHaveBrokenMayBeTwo) {
  // One check on each side of the lost line, which may have ended the stay.
  const Lines lines{opened_line(),  scene(10, 2, true),  checked(20, 3),     scene(60, 5, true),
                    checked(70, 6), scene(90, 7, false), closed_line(200, 8)};
  EXPECT_EQ(judged_form(count_form("at_least: 2"), lines, kSetPhase).verdict, Verdict::kUnproven);
}

std::string photos(int least) {
  return fmt::format(
      "evidence_present {{ item: \"photo.before:front\" item: \"photo.before:rear\" "
      "at_least: {} before: \"scene.set.on\" }}",
      least);
}

TEST(EvidencePresent, EachVerdict) {
  const Lines lines{opened_line(), photo(10, 2, "front"), photo(20, 3, "rear"), scene(30, 4, true),
                    closed_line(90, 5)};
  const Finding met = judged_form(photos(2), lines);
  EXPECT_EQ(told(met), "met 0 0 0 items");
  EXPECT_EQ(met.basis, Basis::kPictured);
  EXPECT_EQ(
      sentence_of(met),
      "r met: 2 before scene.set.on, at 10:00:30, limit at least 2 before scene.set.on, just at "
      "the limit; pictured; record: operator #4, #2, #3; settled");
  const Lines late{opened_line(), photo(10, 2, "front"), scene(30, 3, true), photo(40, 4, "rear"),
                   closed_line(90, 5)};
  EXPECT_EQ(told(judged_form(photos(2), late)), "deviated -1 -1 -1 items");
  EXPECT_EQ(told(judged_form(photos(1), late)), "met 0 0 0 items");
  EXPECT_EQ(
      told(judged_form(photos(1), {opened_line(), photo(10, 2, "front"), closed_line(90, 3)})),
      "no");
}

TEST(EvidencePresent, EachReason) {
  v1::Observation other = line_at(28, "camera", 1,
                                  R"("photo":{"view":"rear","when":"BEFORE","sha256":")" +
                                      std::string(64, 'b') + R"(","mediaType":"image/jpeg"})");
  other.set_clock("camera");
  const auto with = [&](const v1::Observation& rear) {
    return told(judged_form(photos(2), {opened_line(), photo(10, 2, "front"), rear,
                                        scene(30, 3, true), closed_line(90, 4)}));
  };
  EXPECT_EQ(with(other), "unproven(clock_doubt) -1 -1 0 items");  // no offset known
  other.set_clock("truck");
  EXPECT_EQ(with(other), "met 0 0 0 items");
  other.set_quality(v1::Quality::BROKEN);
  EXPECT_EQ(with(other), "unproven(sources_disagree) -1 -1 0 items");
  const std::string after =
      "evidence_present { item: \"photo.before:front\" at_least: 1 after: \"scene.set.on\" }";
  EXPECT_EQ(told(judged_form(after, {opened_line(), scene(30, 2, true), note(40, 3)})),
            "unproven(not_yet) -1 -1 - items");
}

TEST(EvidencePresent, AGapAtEachPlaceAndAnyOrder) {
  const Lines lines{opened_line(), photo(10, 2, "front"), photo(20, 3, "rear"), scene(30, 4, true),
                    note(31, 5),   note(60, 6),           closed_line(90, 7)};
  EXPECT_EQ(with_each_lost(photos(2), lines),
            (Words{"operator 2: unproven(no_data) -2 -2 - items",  // the setting too may hide
                   "operator 3: unproven(no_data) -1 -1 - items", "operator 4: unknown(no_data)",
                   "operator 5: unknown(no_data)",    // it may have been set for an instant only
                   "operator 6: met 0 0 0 items"}));  // one case acquits
  expect_any_order(photos(2), lines);
}

const std::string kRecheck =
    "recheck_every { phase: \"set\" check: \"secured.checked\" time: \"60 s\" }";

TEST(RecheckEvery, EachVerdict) {
  // The truck moves throughout: legs of 50 and 30 s.
  const Lines lines{opened_line(),  moving(1, 1, true),  scene(10, 2, true),
                    checked(60, 3), scene(90, 4, false), closed_line(200, 5)};
  const Finding met = judged_form(kRecheck, lines, kSetPhase);
  EXPECT_EQ(told(met), "met 10 10 10 s");
  EXPECT_EQ(sentence_of(met),
            "r met: gone by since the start of 'set' when checked at 10:01:00, limit at most 60 s, "
            "10 s inside; said; record: operator #2, #3; settled");
  const Lines late{opened_line(),  moving(1, 1, true),  scene(10, 2, true),
                   checked(20, 3), scene(90, 4, false), closed_line(200, 5)};
  EXPECT_EQ(told(judged_form(kRecheck, late, kSetPhase)), "deviated -10 -10 -10 s");
  // 25 s of the 70 it stood.
  const Lines stood{opened_line(),       moving(1, 1, true), moving(30, 2, false),
                    moving(55, 3, true), scene(10, 2, true), checked(20, 3),
                    scene(90, 4, false), closed_line(200, 5)};
  EXPECT_EQ(told(judged_form(kRecheck, stood, kSetPhase)), "met 15 15 15 s");
  const std::string counts =
      "recheck_every { phase: \"set\" check: \"secured.checked\" time: \"60 s\" parked_counts: "
      "true }";
  EXPECT_EQ(told(judged_form(counts, stood, kSetPhase)), "deviated -10 -10 -10 s");
  const std::string first =
      "recheck_every { phase: \"set\" check: \"secured.checked\" time: \"90 s\" first_time: \"5 "
      "s\" }";
  EXPECT_EQ(told(judged_form(first, late, kSetPhase)), "deviated -5 -5 -5 s");
  EXPECT_EQ(
      told(judged_form(kRecheck, {opened_line(), checked(20, 2), closed_line(90, 3)}, kSetPhase)),
      "no");
}

TEST(RecheckEvery, EachReason) {
  EXPECT_EQ(told(judged_form(kRecheck,
                             {opened_line(), moving(1, 1, true), scene(10, 2, true), note(40, 3)},
                             kSetPhase)),
            "unproven(not_yet) 30 30 30 s");
  // Nobody says whether the truck stood.
  EXPECT_EQ(
      told(judged_form(
          kRecheck, {opened_line(), scene(10, 2, true), scene(90, 3, false), closed_line(200, 4)},
          kSetPhase)),
      "unproven(no_data) -20 -20 60 s");
}

TEST(RecheckEvery, AGapAtEachPlaceAndAnyOrder) {
  const Lines lines{opened_line(),  moving(1, 1, true), scene(10, 2, true),   note(11, 3),
                    checked(50, 4), note(70, 5),        scene(130, 6, false), closed_line(200, 7)};
  const Words found = with_each_lost(kRecheck, lines, kSetPhase);
  // Whole, the last leg of 80 s is 20 s too long.
  EXPECT_EQ(told(judged_form(kRecheck, lines, kSetPhase)), "deviated -20 -20 -20 s");
  ASSERT_EQ(found.size(), 5u);
  EXPECT_EQ(found[0], "operator 2: unknown(no_data)");
  EXPECT_EQ(found[1], "operator 3: unknown(no_data)");  // it may have been set for an instant only
  for (size_t i = 2; i < 5; ++i)
    EXPECT_NE(found[i].find("unproven(no_data)"), std::string::npos) << found[i];
  expect_any_order(kRecheck, lines, kSetPhase);
}

const std::string kNever =
    "never_together { state: \"scene.set\" with: \"screen.awake\" tolerate: \"10 s\" }";

TEST(NeverTogether, EachVerdict) {
  // Together from 30 to 36 s; then from 30 to 50 s; then 15 s apart.
  const auto job = [](double off) {
    return Lines{opened_line(), scene(10, 2, true), screen(30, 3, true), scene(off, 4, false),
                 closed_line(200, 5)};
  };
  const Finding met = judged_form(kNever, job(36));
  EXPECT_EQ(told(met), "met 4 4 4 s");
  EXPECT_EQ(sentence_of(met),
            "r met: scene.set and screen.awake together for 6 s from 10:00:30, limit at most 10 s, "
            "4 s inside; said; record: operator #2, #3, #4; settled");
  EXPECT_EQ(told(judged_form(kNever, job(50))), "deviated -10 -10 -10 s");
  EXPECT_EQ(told(judged_form(kNever, {opened_line(), scene(10, 2, true), scene(15, 3, false),
                                      screen(30, 4, true), closed_line(200, 5)})),
            "met 25 25 25 s");
  EXPECT_EQ(told(judged_form(kNever, {opened_line(), screen(30, 2, true), closed_line(90, 3)})),
            "no");
}

TEST(NeverTogether, EachReason) {
  EXPECT_EQ(told(judged_form(
                kNever, {opened_line(), scene(10, 2, true), screen(30, 3, true), note(35, 4)})),
            "unproven(not_yet) 5 5 5 s");
  // Awake at 30 s, the line between 36 and 90 s is lost: 60 s possible, 6 s sure.
  EXPECT_EQ(told(judged_form(kNever, {opened_line(), scene(10, 2, true), screen(30, 3, true),
                                      note(36, 4), scene(90, 6, false), closed_line(200, 7)})),
            "unproven(no_data) -50 4 4 s");
  EXPECT_EQ(told(judged_form(kNever, {opened_line(), scene(10, 2, true), note(20, 3), note(90, 5),
                                      closed_line(200, 6)})),
            "unknown(no_data)");
}

TEST(NeverTogether, ByTwoClocks) {
  // Awake at 30 s by a clock 5 s off either way: together for 6 s, 1 to 11.
  v1::Observation awake = line_at(30, "probe", 1, R"("screen":{"awake":true})");
  awake.set_clock("probe");
  awake.set_time_uncertainty_ms(5000);
  EXPECT_EQ(told(judged_form(kNever, {opened_line(), scene(10, 2, true), awake, scene(36, 3, false),
                                      closed_line(200, 4)})),
            "unproven(clock_doubt) -1 4 9 s");
}

TEST(NeverTogether, AGapAtEachPlaceAndAnyOrder) {
  const Lines lines{opened_line(),       scene(10, 2, true), screen(30, 3, true),
                    scene(36, 4, false), note(90, 5),        closed_line(200, 6)};
  for (const std::string& found : with_each_lost(kNever, lines))
    EXPECT_NE(found.find("(no_data)"), std::string::npos) << found;
  expect_any_order(kNever, lines);
}

const std::string kStrength =
    "enough_strength { phase: \"driving\" of: \"tiedowns\" times_mass: \"0.5\" least_count: 2 }";

Words strength_of(const Lines& lines, const std::string& mass) {
  const std::string gear =
      "gear { id: \"a\" kind: WEBBING wll: \"600 kg\" in_service: \"2025-01-10\" inspect_by: "
      "\"2027-01-10\" }\n"
      "gear { id: \"b\" kind: WEBBING wll: \"900 kg\" in_service: \"2025-01-10\" inspect_by: "
      "\"2027-01-10\" }\n"
      "vehicle { id: \"car\" " +
      mass + " }\n";
  const std::string text =
      "id: \"t\" version: \"1\" title: \"t\"\nphase { id: \"driving\" opens: \"truck.moving.on\" "
      "closes: \"truck.moving.off\" longest: \"4 h\" }\nrule { " +
      rule_head("r") + kStrength + " }";
  const auto rules = Rulebook::load({{"p.textproto", text}}, {{"r.textproto", gear}});
  EXPECT_TRUE(rules) << (rules ? "" : rules.error().message);
  Words words;
  for (const Finding& finding : judge_job(*rules, lines)) words.push_back(told(finding));
  return words;
}

TEST(EnoughStrength, EachVerdict) {
  // Across counts whole: 600 + 900 = 1,500 kg against half of 2,400, of 3,200 kg.
  const Lines two{opened_line(),          moving(1, 1, false), tied(10, 2, "a", true),
                  tied(20, 3, "b", true), moving(60, 2, true), moving(90, 3, false),
                  closed_line(200, 4)};
  EXPECT_EQ(strength_of(two, "mass: \"2400 kg\""),
            (Words{"met 300 300 300 kg", "met 0 0 0 items"}));
  EXPECT_EQ(strength_of(two, "mass: \"3200 kg\""),
            (Words{"deviated -100 -100 -100 kg", "met 0 0 0 items"}));
  // A strap off under way is not healed by putting it back: 900 - 1,200.
  const Lines off{opened_line(),          moving(1, 1, false),  tied(10, 2, "a", true),
                  tied(20, 3, "b", true), moving(60, 2, true),  tied(70, 4, "a", false),
                  tied(80, 5, "a", true), moving(90, 3, false), closed_line(200, 6)};
  EXPECT_EQ(strength_of(off, "mass: \"2400 kg\""),
            (Words{"deviated -300 -300 -300 kg", "deviated -1 -1 -1 items"}));
  EXPECT_EQ(
      strength_of({opened_line(), moving(1, 1, false), closed_line(200, 2)}, "mass: \"2400 kg\""),
      (Words{"no", "no"}));
}

TEST(EnoughStrength, EachReason) {
  const Lines two{opened_line(),          moving(1, 1, false), tied(10, 2, "a", true),
                  tied(20, 3, "b", true), moving(60, 2, true), moving(90, 3, false),
                  closed_line(200, 4)};
  // u = 1.645 x 200 = 329 kg, half of it 164.5: 1,500 - (1,450 +- 164.5).
  EXPECT_EQ(strength_of(two, "mass: \"2900 kg\" mass_sd: \"200 kg\"").at(0),
            "unproven(too_close) -114.5 50 214.5 kg");
  EXPECT_EQ(strength_of(two, "").at(0), "unproven(no_data) - - - kg");
  Lines gap = two;  // One line of the operator's is missing before the truck moves.
  gap.back() = closed_line(200, 6);
  gap.push_back(note(30, 5));
  EXPECT_EQ(strength_of(gap, "mass: \"3200 kg\"").at(0).substr(0, 17), "unproven(no_data)");
  EXPECT_EQ(strength_of(two, "mass: \"2400 kg\"").at(1), "met 0 0 0 items");
}

TEST(EnoughStrength, TheTrucksOwnWordOfItsMotionStands) {
  // A line of the operator's is lost while the truck's receiver says that it moves: his words do
  // not tell that, lost or not, so the phase is sure; the straps said before stay said.
  const Lines lines{opened_line(),          moving(1, 1, false), tied(10, 2, "a", true),
                    tied(20, 3, "b", true), moving(60, 2, true), moving(90, 3, false),
                    note(100, 4),           note(150, 6),        closed_line(200, 7)};
  EXPECT_EQ(strength_of(lines, "mass: \"2400 kg\""),
            (Words{"met 300 300 300 kg", "met 0 0 0 items"}));
}

}  // namespace
}  // namespace fairlead::judge
