// What holds the car (vocabulary.md 3): tiedowns by 49 CFR 393.106(d) (DIRECT and SAME_SIDE count
// half, ACROSS whole), rigging by its weakest gear, what a lost line or a date leaves of both.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include "tests/unit/judge/facts/facts_kit.h"

namespace fairlead::judge {
namespace {

std::string tell(const Strength& sum) {
  const auto end = [](const std::optional<int64_t>& number) {
    return number ? std::to_string(*number) : "-";
  };
  std::string text =
      fmt::format("{}-{} {} {} {} n {} {} {}",
                  seconds(sum.from_us == kBeginning ? kBeginning : sum.from_us - kTen),
                  seconds(sum.to_us == kForever ? kForever : sum.to_us - kTen), sum.lo_g,
                  sum.best_g, end(sum.hi_g), sum.count_lo, sum.count_best, end(sum.count_hi));
  for (const Reason reason : sum.doubts) text += std::string(" ") + word(reason);
  if (!sum.count_doubts.empty()) text += " /";
  for (const Reason reason : sum.count_doubts) text += std::string(" ") + word(reason);
  for (const int line : sum.lines) text += fmt::format(" #{}", line);
  return text + "; ";
}
std::string tell(const std::vector<Strength>& sums) {
  std::string text;
  for (const Strength& sum : sums) text += tell(sum);
  return text;
}
std::string gear(const std::string& id, const std::string& more) {
  return fmt::format("gear {{ id: \"{}\" {} }}\n", id, more);
}

const std::string kGear =
    gear("a", "kind: WEBBING width: \"50 mm\" wll: \"600 kg\"") +
    gear("b", "kind: WEBBING wll: \"1000 kg\"") + gear("odd", "kind: WEBBING wll: \"0.601 kg\"") +
    gear("own", "kind: WEBBING wll: \"600 kg\" anchor_wll: \"250 kg\"") +
    gear("hook", "kind: HOOK") + gear("plain", "kind: WEBBING width: \"50 mm\"") +
    gear("wide", "kind: WEBBING") +
    gear("knotted", "kind: WEBBING width: \"50 mm\" wll: \"600 kg\" defect: \"knot\"") +
    gear("scuffed", "kind: WEBBING width: \"50 mm\" wll: \"600 kg\" defect: \"scuffed\"") +
    gear("speck", "kind: WEBBING wll: \"0.001 kg\"") +
    gear("ring", "kind: ANCHOR wll: \"300 kg\"") + gear("strong", "kind: ANCHOR wll: \"5000 kg\"") +
    gear("bare", "kind: ANCHOR") +
    gear("bent", "kind: ANCHOR wll: \"5000 kg\" out_of_service: \"2026-01-01\"") +
    gear("worn", "kind: ANCHOR wll: \"5000 kg\" defect: \"odd\"");

std::string strap(bool on, const std::string& id, const std::string& wheel = "LF",
                  const std::string& path = "ACROSS", const std::string& anchor = "") {
  return fmt::format(R"("tiedown":{{"on":{},"gear":"{}","wheel":"{}","path":"{}"{}}})", on, id,
                     wheel, path, anchor.empty() ? "" : R"(,"anchorGear":")" + anchor + "\"");
}

// The sum from the one strap on, without its times.
std::string one(const std::string& tied) {
  const Job job({opened(), op(10, 2, tied), closed(s(60), 3)}, "", kGear);
  const auto& sums = job.state->rigging.tiedowns();
  return sums.size() == 2 ? tell(sums[1]).substr(7) : "not one";
}

TEST(Tiedowns, AddUpWhileTheyAreOn) {
  const Job job(
      {opened(), op(10, 2, strap(true, "a")), op(20, 3, strap(true, "b", "RF")),
       op(30, 4, strap(false, "a")), op(40, 5, strap(false, "b", "RF")), closed(s(60), 6)},
      "", kGear);
  EXPECT_EQ(tell(job.state->rigging.tiedowns()),
            "-inf-10 0 0 0 n 0 0 0; 10-20 600000 600000 600000 n 1 1 1 #1; 20-30 1600000 1600000 "
            "1600000 n 2 2 2 #1 #2; "
            "30-40 1000000 1000000 1000000 n 1 1 1 #2; 40-inf 0 0 0 n 0 0 0; ");
  EXPECT_EQ(tell(Job({opened(), closed(s(60), 2)}).state->rigging.tiedowns()),
            "-inf-inf 0 0 0 n 0 0 0; ");
  EXPECT_NE(piece_of(job.lines[1].tiedown()), piece_of(job.lines[2].tiedown()));
  EXPECT_EQ(tell(Job(Lines{}).state->rigging.tiedowns()), "-inf-inf 0 0 0 n 0 0 0; ");
  // Of one instant in the order of the lines.
  const Job same(
      {opened(), op(10, 2, strap(true, "a")), op(10, 3, strap(false, "a")), closed(s(60), 4)}, "",
      kGear);
  EXPECT_EQ(tell(same.state->rigging.tiedowns()),
            "-inf-10 0 0 0 n 0 0 0; 10-10 600000 600000 600000 n 1 1 1 #1; 10-inf 0 0 0 n 0 0 0; ");
}

TEST(Tiedowns, CountByTheirPath) {
  EXPECT_EQ(one(strap(true, "odd", "LF", "ACROSS")), "601 601 601 n 1 1 1 #1; ");
  EXPECT_EQ(one(strap(true, "odd", "LF", "DIRECT")),
            "300 300 301 n 1 1 1 #1; ");  // Outward; a gram is no doubt.
  EXPECT_EQ(one(strap(true, "a", "LF", "SAME_SIDE")), "300000 300000 300000 n 1 1 1 #1; ");
}

TEST(Tiedowns, BearNoMoreThanTheirAnchor) {
  EXPECT_EQ(one(strap(true, "a", "LF", "ACROSS", "ring")), "300000 300000 300000 n 1 1 1 #1; ");
  EXPECT_EQ(one(strap(true, "a", "LF", "ACROSS", "strong")), "600000 600000 600000 n 1 1 1 #1; ");
  EXPECT_EQ(one(strap(true, "own")), "250000 250000 250000 n 1 1 1 #1; ");
  EXPECT_EQ(one(strap(true, "own", "LF", "ACROSS", "ring")), "300000 300000 300000 n 1 1 1 #1; ");
  EXPECT_EQ(one(strap(true, "a", "LF", "ACROSS", "bare")), "0 0 600000 n 1 1 1 no_data #1; ");
  EXPECT_EQ(one(strap(true, "a", "LF", "ACROSS", "nobody's")), "0 0 600000 n 1 1 1 no_data #1; ");
  EXPECT_EQ(one(strap(true, "a", "LF", "ACROSS", "bent")), "0 0 0 n 0 0 0 #1; ");
  EXPECT_EQ(one(strap(true, "a", "LF", "ACROSS", "worn")),
            "0 0 600000 n 0 0 1 no_data / no_data #1; ");
  EXPECT_EQ(one(strap(true, "hook", "LF", "ACROSS", "ring")), "0 0 300000 n 1 1 1 no_data #1; ");
}

TEST(Tiedowns, ThatNobodyRatedMayBearNothing) {
  EXPECT_EQ(one(strap(true, "nobody's")), "0 0 - n 1 1 1 no_data #1; ");
  EXPECT_EQ(one(strap(true, "hook")), "0 0 - n 1 1 1 no_data #1; ");
  EXPECT_EQ(one(strap(true, "hook", "LF", "DIRECT")), "0 0 - n 1 1 1 no_data #1; ");
  // 49 CFR 393.108, kg column: synthetic webbing of 50 mm 910 kg, of 100 mm, the widest, 1,810.
  EXPECT_EQ(one(strap(true, "plain")), "910000 910000 910000 n 1 1 1 #1; ");
  EXPECT_EQ(one(strap(true, "wide")), "0 0 1810000 n 1 1 1 no_data #1; ");
  EXPECT_EQ(one(strap(true, "knotted")), "0 0 0 n 0 0 0 #1; ");
  EXPECT_EQ(one(strap(true, "scuffed")), "0 0 600000 n 0 0 1 no_data / no_data #1; ");
  const Job job({opened(), op(10, 2, strap(true, "nobody's")), op(20, 3, strap(true, "a", "RF")),
                 closed(s(60), 4)},
                "", kGear);
  EXPECT_EQ(tell(job.state->rigging.tiedowns()[2]),
            "20-inf 600000 600000 - n 2 2 2 no_data #2 #1; ");
}

std::vector<std::string> remarks(const std::string& tied) {
  return Job({opened(), op(10, 2, tied), closed(s(60), 3)}, "", kGear)
      .state->rigging.tiedowns()
      .back()
      .remarks;
}

TEST(Tiedowns, SayWhatIsAmissWithThem) {
  using Words = std::vector<std::string>;
  EXPECT_EQ(remarks(strap(true, "own")), Words{});
  EXPECT_EQ(remarks(strap(true, "a")), Words{"no file names the anchor of 'a'; it does not limit"});
  EXPECT_EQ(remarks(strap(true, "plain")), Words{"'plain' is unmarked: 49 CFR 393.108 default"});
  EXPECT_EQ(remarks(strap(true, "hook")), Words{"the rating of 'hook' is unread"});
  EXPECT_EQ(remarks(strap(true, "nobody's")),
            Words{"gear 'nobody's' is in no register file, so its rating is unread"});
  EXPECT_EQ(remarks(strap(true, "a", "LF", "ACROSS", "bare")),
            Words{"anchor 'bare' has no rating on file"});
  EXPECT_EQ(remarks(strap(true, "a", "LF", "ACROSS", "strong")), Words{});
  EXPECT_TRUE(remarks(strap(true, "a", "LF", "ACROSS", "bent"))
                  .at(0)
                  .starts_with("gear 'bent' does not count"))
      << remarks(strap(true, "a", "LF", "ACROSS", "bent")).at(0);
  EXPECT_TRUE(remarks(strap(true, "a", "LF", "ACROSS", "worn"))
                  .at(0)
                  .starts_with("gear 'worn' may not count"));
}

const int64_t kMidnight = 14 * 3600 * kSecondUs;  // 2026-03-03, after kTen.
const std::string kDated =
    gear("due", "kind: WEBBING wll: \"600 kg\" anchor_wll: \"600 kg\" inspect_by: \"2026-03-02\"") +
    gear("new", "kind: WEBBING wll: \"600 kg\" in_service: \"2026-03-03\"") +
    gear("hold", "kind: ANCHOR wll: \"600 kg\" out_of_service: \"2026-03-03\"") + kGear;

std::string dated(int64_t tied_us, const std::string& tied, int64_t last_us) {
  const Job job({opened(), said(tied_us, "operator", 2, tied), closed(last_us, 3)}, "", kDated);
  return tell(job.state->rigging.tiedowns());
}

TEST(Tiedowns, RunOutOnTheirDate) {
  const std::string before = "-inf-50399.999999 0 0 0 n 0 0 0; ",
                    on = "600000 600000 600000 n 1 1 1 #1; ", off = "0 0 0 n 0 0 0 #1; ";
  EXPECT_EQ(dated(kMidnight - 1, strap(true, "due"), kMidnight),
            before + "50399.999999-50400 " + on + "50400-inf " + off);
  EXPECT_EQ(dated(kMidnight - 1, strap(true, "due"), kMidnight - 1),
            before + "50399.999999-inf " + on);
  EXPECT_EQ(dated(kMidnight, strap(true, "due"), kMidnight + 5),
            "-inf-50400 0 0 0 n 0 0 0; 50400-inf " + off);
  EXPECT_EQ(dated(kMidnight - 1, strap(true, "new"), kMidnight),
            before + "50399.999999-50400 " + off + "50400-inf " + on);
  EXPECT_EQ(dated(kMidnight - 1, strap(true, "a", "LF", "ACROSS", "hold"), kMidnight),
            before + "50399.999999-50400 " + on + "50400-inf " + off);
  // The date of what is in no strap makes no step; that of one taken off does, and changes nothing.
  EXPECT_EQ(
      dated(kMidnight - 1, R"("rigging":{"on":true,"point":"eye","gear":["due"]})", kMidnight),
      "-inf-inf 0 0 0 n 0 0 0; ");
  EXPECT_EQ(dated(kMidnight - 1, strap(false, "due"), kMidnight),
            before + "50399.999999-50400 0 0 0 n 0 0 0; 50400-inf 0 0 0 n 0 0 0; ");
}

TEST(Tiedowns, MayHaveComeOffOrOnInALostLine) {
  const auto sums = [](const Lines& lines) {
    return tell(Job(lines, "", kGear).state->rigging.tiedowns());
  };
  const std::string on = "600000 600000 600000 n 1 1 1 #1; ";
  EXPECT_EQ(sums({opened(), op(10, 2, strap(true, "a")), op(20, 3, kNote), op(30, 6, kNote),
                  closed(s(60), 7)}),
            "-inf-10 0 0 0 n 0 0 0; 10-20.000001 " + on +
                "20.000001-inf 0 600000 - n 0 1 3 no_data / no_data #1; ");
  // Put on after the gap it is on; what else may have been put on in there is not.
  EXPECT_EQ(sums({opened(), op(10, 2, kNote), op(20, 4, kNote), op(30, 5, strap(true, "a")),
                  closed(s(60), 6)}),
            "-inf-10.000001 0 0 0 n 0 0 0; 10.000001-30 0 0 - n 0 0 1 no_data / no_data; 30-inf "
            "600000 600000 - n 1 1 2 no_data / no_data #3; ");
  // At the instant the gap ends, and right after it began.
  EXPECT_EQ(sums({opened(), op(10, 2, kNote), op(20, 4, strap(true, "a")), closed(s(60), 5)}),
            "-inf-10.000001 0 0 0 n 0 0 0; 10.000001-20 0 0 - n 0 0 1 no_data / no_data; 20-inf "
            "600000 600000 - n 1 1 2 no_data / no_data #2; ");
  EXPECT_EQ(sums({opened(), op(10, 2, strap(true, "a")), op(20, 4, kNote), closed(s(60), 5)}),
            "-inf-10 0 0 0 n 0 0 0; 10-10.000001 " + on +
                "10.000001-inf 0 600000 - n 0 1 2 no_data / no_data #1; ");
  // Nor where another source is not believed, however many are lost beside.
  EXPECT_EQ(sums({opened(), op(10, 2, kNote), op(20, 4, kNote), line(30, "desk", 1, kNote),
                  line(30, "desk", 1, kArrived), closed(s(60), 5)}),
            "-inf-10.000001 0 0 0 n 0 0 0; 10.000001-30.000001 0 0 - n 0 0 1 no_data / no_data; "
            "30.000001-inf 0 0 - n 0 0 - no_data sources_disagree / no_data sources_disagree; ");
  // Nobody knows how many where a person says that lines are lost.
  EXPECT_EQ(sums({opened(), op(10, 2, strap(true, "a")), op(20, 3, kNote),
                  op(25, 4, gap("operator")), op(30, 5, kNote), closed(s(60), 6)}),
            "-inf-10 0 0 0 n 0 0 0; 10-20.000001 " + on +
                "20.000001-inf 0 600000 - n 0 1 - no_data / no_data #1; ");
  // Two gaps add up, and each has its reason.
  EXPECT_EQ(sums({opened(), op(10, 2, kNote), op(20, 4, kNote), line(30, "desk", 1, kNote),
                  line(35, "desk", 2, gap("desk")), closed(s(60), 5)}),
            "-inf-10.000001 0 0 0 n 0 0 0; 10.000001-30.000001 0 0 - n 0 0 1 no_data / no_data; "
            "30.000001-inf 0 0 - n 0 0 - no_data cut_short / no_data cut_short; ");
  // Lost before the job was opened: from its opening on.
  EXPECT_EQ(sums({op(-9, 1, kNote), opened(0, "", 3), closed(s(60), 4)}),
            "-inf-0.000001 0 0 0 n 0 0 0; 0.000001-inf 0 0 - n 0 0 1 no_data / "
            "no_data; ");
}

TEST(Tiedowns, AreSaidByPeopleAndWhoSpeaksOfThem) {
  const auto sums = [](const Lines& lines) {
    return tell(Job(lines, "", kGear).state->rigging.tiedowns());
  };
  const std::string on = "600000 600000 600000 n 1 1 1 #1; ";
  // An instrument that says nothing of straps loses none; one that does, its own and those it may
  // have added.
  EXPECT_EQ(sums({opened(), op(10, 2, strap(true, "a")), line(20, "box", 1, kNote),
                  line(30, "box", 3, kNote), closed(s(60), 3)}),
            "-inf-10 0 0 0 n 0 0 0; 10-inf " + on);
  EXPECT_EQ(sums({opened(), line(10, "box", 1, strap(true, "a")), line(20, "box", 2, kNote),
                  line(30, "box", 4, kNote), closed(s(60), 2)}),
            "-inf-10 0 0 0 n 0 0 0; 10-20.000001 " + on +
                "20.000001-inf 0 600000 - n 0 1 2 no_data / no_data #1; ");
  EXPECT_EQ(sums({opened(), op(10, 2, strap(true, "a")), line(12, "box", 1, strap(true, "b", "RF")),
                  line(20, "box", 2, kNote), line(30, "box", 4, kNote), closed(s(60), 3)}),
            "-inf-10 0 0 0 n 0 0 0; 10-12 " + on +
                "12-20.000001 1600000 1600000 1600000 n 2 2 2 #1 #2; "
                "20.000001-inf 600000 1600000 - n 1 2 3 no_data / no_data #1 #2; ");
  // A gap of one channel is of its readings.
  EXPECT_EQ(
      sums({opened(), op(10, 2, strap(true, "a")), op(20, 3, gap("line.pull")), closed(s(60), 4)}),
      "-inf-10 0 0 0 n 0 0 0; 10-inf " + on);
}

std::string rig(bool on, const std::string& point, const std::vector<std::string>& gears) {
  std::string ids;
  for (const std::string& id : gears) ids += (ids.empty() ? "\"" : ",\"") + id + "\"";
  return fmt::format(R"("rigging":{{"on":{},"point":"{}","gear":[{}]}})", on, point, ids);
}

TEST(Rigging, BearsWhatItsWeakestGearDoesAtEachPoint) {
  const auto last = [](const std::vector<std::string>& kinds) {
    Lines lines{opened()};
    uint32_t seq = 1;
    for (const std::string& kind : kinds) lines.push_back(op(10.0 * seq, seq + 1, kind)), ++seq;
    lines.push_back(closed(s(60), seq + 1));
    return tell(Job(lines, "", kGear).state->rigging.rigging().back());
  };
  EXPECT_EQ(last({rig(true, "eye", {"b", "a"})}), "10-inf 600000 600000 600000 n 1 1 1 #1; ");
  EXPECT_EQ(last({rig(true, "eye", {"a", "b"})}), "10-inf 600000 600000 600000 n 1 1 1 #1; ");
  EXPECT_EQ(last({rig(true, "eye", {"a"}), rig(true, "rear", {"b"})}),
            "20-inf 1600000 1600000 1600000 n 2 2 2 #1 #2; ");
  EXPECT_EQ(last({rig(true, "eye", {"a"}), rig(true, "eye", {"b"})}),
            "20-inf 1000000 1000000 1000000 n 1 1 1 #2; ");
  EXPECT_EQ(last({rig(true, "eye", {"a"}), rig(false, "eye", {})}), "20-inf 0 0 0 n 0 0 0; ");
  EXPECT_EQ(last({rig(true, "eye", {"a"}), rig(false, "rear", {})}),
            "20-inf 600000 600000 600000 n 1 1 1 #1; ");
  EXPECT_EQ(last({rig(true, "eye", {})}), "10-inf 0 0 - n 1 1 1 no_data #1; ");
  EXPECT_EQ(last({rig(true, "eye", {"a", "hook"})}), "10-inf 0 0 600000 n 1 1 1 no_data #1; ");
  EXPECT_EQ(last({rig(true, "eye", {"a", "nobody's"})}), "10-inf 0 0 600000 n 1 1 1 no_data #1; ");
  EXPECT_EQ(last({rig(true, "eye", {"knotted", "a"})}), "10-inf 0 0 0 n 0 0 0 #1; ");
  EXPECT_EQ(last({rig(true, "eye", {"scuffed", "b"})}),
            "10-inf 0 0 600000 n 0 0 1 no_data / no_data #1; ");
  EXPECT_EQ(last({rig(true, "eye", {"b", "scuffed"})}),
            "10-inf 0 0 600000 n 0 0 1 no_data / no_data #1; ");
  const Job same({opened(), op(10, 2, rig(true, "eye", {"a"})), op(10, 3, rig(false, "eye", {})),
                  closed(s(60), 4)},
                 "", kGear);
  EXPECT_EQ(tell(same.state->rigging.rigging()),
            "-inf-10 0 0 0 n 0 0 0; 10-10 600000 600000 600000 n 1 1 1 #1; 10-inf 0 0 0 n 0 0 0; ");
  const Job job({opened(), op(10, 2, rig(true, "eye", {"a"})), closed(s(60), 3)}, "", kGear);
  EXPECT_EQ(tell(job.state->rigging.rigging()),
            "-inf-10 0 0 0 n 0 0 0; 10-inf 600000 600000 600000 n 1 1 1 #1; ");
  EXPECT_EQ(job.state->rigging.rigging().back().remarks, std::vector<std::string>{});
  const Job hooked({opened(), op(10, 2, rig(true, "eye", {"hook", "a"})), closed(s(60), 3)}, "",
                   kGear);
  EXPECT_EQ(hooked.state->rigging.rigging().back().remarks,
            std::vector<std::string>{"the rating of 'hook' is unread"});
}

TEST(Rigging, RunsOutOnItsDate) {
  const auto sums = [](int64_t rigged_us, const std::string& kind, int64_t last_us) {
    return tell(
        Job({opened(), said(rigged_us, "operator", 2, kind), closed(last_us, 3)}, "", kDated)
            .state->rigging.rigging());
  };
  EXPECT_EQ(sums(kMidnight - 1, rig(true, "eye", {"a", "due"}), kMidnight),
            "-inf-50399.999999 0 0 0 n 0 0 0; 50399.999999-50400 600000 600000 600000 n 1 1 1 #1; "
            "50400-inf 0 0 0 n 0 0 0 #1; ");
  EXPECT_EQ(sums(kMidnight - 1, strap(true, "due"), kMidnight), "-inf-inf 0 0 0 n 0 0 0; ");
}

TEST(Rigging, IsInUseUntilItsPointIsNamedAgain) {
  Job job({opened(), op(10, 2, rig(true, "eye", {"a"})), op(20, 3, rig(true, "rear", {"b"})),
           op(30, 4, rig(true, "eye", {"b"})), op(40, 5, rig(false, "rear", {})), closed(s(60), 6)},
          "", kGear);
  const auto used = [&](double second) {
    std::string text;
    for (const RiggingUse& use : job.state->rigging.in_use(kTen + s(second)))
      text +=
          fmt::format("{}#{} {}-{} ", use.rigging->point(), use.line, seconds(use.from_us - kTen),
                      use.to_us == kForever ? "inf" : seconds(use.to_us - kTen));
    return text;
  };
  EXPECT_EQ(used(9.999999), "");
  EXPECT_EQ(used(10), "eye#1 10-30 ");
  EXPECT_EQ(used(20), "eye#1 10-30 rear#2 20-40 ");
  EXPECT_EQ(used(29.999999), "eye#1 10-30 rear#2 20-40 ");
  EXPECT_EQ(used(30), "rear#2 20-40 eye#3 30-inf ");
  EXPECT_EQ(used(40), "eye#3 30-inf ");
  job.state->rigging.follow();
  EXPECT_EQ(used(40), "eye#3 30-inf ");
  EXPECT_EQ(tell(job.state->rigging.rigging().back()),
            "40-inf 1000000 1000000 1000000 n 1 1 1 #3; ");
}

TEST(Ratings, OfTheLineAreTheLeastOfItAndItsGear) {
  // kg x 9.80665 (standard gravity): 600 kg are 5883.99 N, 1000 kg 9806.65.
  const auto rating = [](const std::vector<std::string>& gears, const std::string& winch) {
    const Job job({opened(), op(10, 2, rig(true, "eye", gears)), closed(s(60), 3)}, "",
                  kGear + "truck { id: \"truck-1\" winch { " + winch + " } }");
    return told(job.state->rigging.line_rating(kTen + s(10), job.state->parties.truck));
  };
  const std::string strong = "line_rating: \"20 kN\"", weak = "line_rating: \"3 kN\"";
  EXPECT_EQ(rating({}, strong), "20000 20000 20000");
  EXPECT_EQ(rating({}, ""), "- - -");
  EXPECT_EQ(rating({"a"}, strong), "5883 5884 5884");
  EXPECT_EQ(rating({"b", "a"}, strong), "5883 5884 5884");
  EXPECT_EQ(rating({"b"}, strong), "9806 9807 9807");
  EXPECT_EQ(rating({"a"}, weak), "3000 3000 3000");
  EXPECT_EQ(rating({"speck"}, strong), "0 0 1");
  EXPECT_EQ(rating({"a"}, ""), "- 5884 5884");
  EXPECT_EQ(rating({"hook"}, strong), "- 20000 20000");
  EXPECT_EQ(rating({"hook", "a"}, strong), "- 5884 5884");
  EXPECT_EQ(rating({"hook"}, ""), "- - -");
  EXPECT_EQ(rating({"hook", "a"}, ""), "- 5884 5884");
  EXPECT_EQ(rating({"wide"}, strong), "- 17751 17751");  // At most 1,810 kg: 17750.0365 N.
  EXPECT_EQ(rating({"wide"}, ""), "- - 17751");
  EXPECT_EQ(rating({"a", "knotted"}, strong), "0 0 0");
  EXPECT_EQ(rating({"scuffed"}, strong), "- 5884 5884");
  const Job none({opened(), op(10, 2, rig(true, "eye", {"a"})), closed(s(60), 3)}, "", kGear);
  EXPECT_EQ(told(none.state->rigging.line_rating(kTen + s(10), nullptr)), "- 5884 5884");
  EXPECT_EQ(told(none.state->rigging.line_rating(kTen + s(10) - 1, nullptr)), "- - -");
}

TEST(Ratings, AreOpenWhereALostLineMayHaveChangedTheRigging) {
  const std::string
      truck = "truck { id: \"truck-1\" winch { line_rating: \"20 kN\" } }",
      points = "vehicle { id: \"car\" point { id: \"eye\" kind: TOW_EYE rating: \"8 kN\" } }";
  const Job job({opened(), op(10, 2, rig(true, "eye", {"a"})), op(20, 3, kNote), op(30, 5, kNote),
                 op(40, 6, rig(true, "eye", {"a"})), op(50, 7, kNote), closed(s(60), 8)},
                "", kGear + truck + points);
  const auto other = [&](double second) {
    const auto why = job.state->rigging.may_be_other(kTen + s(second));
    return std::string(why ? word(*why) : "no");
  };
  EXPECT_EQ(other(20), "no");
  EXPECT_EQ(other(20.000001), "no_data");
  EXPECT_EQ(other(39.999999), "no_data");
  EXPECT_EQ(other(40), "no");
  const auto line_at = [&](double second) {
    return told(job.state->rigging.line_rating(kTen + s(second), job.state->parties.truck));
  };
  const auto point_at = [&](double second) {
    return told(job.state->rigging.point_rating(kTen + s(second), job.state->parties.vehicle));
  };
  EXPECT_EQ(line_at(20), "5883 5884 5884");
  EXPECT_EQ(line_at(25), "- 5884 20000");
  EXPECT_EQ(told(job.state->rigging.line_rating(kTen + s(25), nullptr)), "- 5884 -");
  EXPECT_EQ(point_at(20), "8000 8000 8000");
  EXPECT_EQ(point_at(25), "- 8000 -");
  EXPECT_EQ(point_at(9), "- - -");
  // Said again at the instant the gap ends; lost before anything was said.
  const Job ends({opened(), op(10, 2, kNote), op(20, 4, rig(true, "eye", {"a"})), closed(s(60), 5)},
                 "", kGear);
  EXPECT_FALSE(ends.state->rigging.may_be_other(kTen + s(20)));
  EXPECT_EQ(ends.state->rigging.may_be_other(kTen + s(19)), Reason::kNoData);
  // A person's only, of no channel; of two the first reason by the fixed order.
  const Job box({opened(), op(10, 2, rig(true, "eye", {"a"})), line(20, "box", 1, kNote),
                 line(30, "box", 3, kNote), op(35, 3, gap("line.pull")), closed(s(60), 4)},
                "", kGear);
  EXPECT_FALSE(box.state->rigging.may_be_other(kTen + s(50)));
  for (const bool swapped : {false, true}) {
    const std::string cut = swapped ? "operator" : "desk", whole = swapped ? "desk" : "operator";
    const Job two({opened(), line(20, whole, 2, kNote), line(30, whole, 4, kNote),
                   line(20, cut, 2, kNote), line(25, cut, 3, gap(cut))},
                  "", kGear);
    EXPECT_EQ(two.state->rigging.may_be_other(kTen + s(40)), Reason::kNoData);
  }
  const Job late({opened(), line(20, "desk", 1, kNote), line(25, "desk", 2, gap("desk"))}, "",
                 kGear);
  EXPECT_EQ(late.state->rigging.may_be_other(kTen + s(40)), Reason::kCutShort);
}

TEST(Ratings, OfPointsAreTheLeastInUse) {
  const auto rating = [](const std::vector<std::string>& points, const std::string& files) {
    Lines lines{opened()};
    uint32_t seq = 2;
    for (const std::string& point : points) lines.push_back(op(10, seq++, rig(true, point, {})));
    lines.push_back(closed(s(60), seq));
    const Job job(lines, "", files);
    return told(job.state->rigging.point_rating(kTen + s(10), job.state->parties.vehicle));
  };
  const std::string car =
      "vehicle { id: \"car\" point { id: \"eye\" kind: TOW_EYE rating: \"8 kN\" } point { id: "
      "\"rear\" kind: TOW_EYE rating: \"6 kN\" } "
      "point { id: \"slot\" kind: CHAIN_SLOT } }";
  EXPECT_EQ(rating({"eye"}, car), "8000 8000 8000");
  EXPECT_EQ(rating({"eye", "rear"}, car), "6000 6000 6000");
  EXPECT_EQ(rating({"rear", "eye"}, car), "6000 6000 6000");
  EXPECT_EQ(rating({"eye", "slot"}, car), "- - -");
  EXPECT_EQ(rating({"eye", "nowhere"}, car), "- - -");
  EXPECT_EQ(rating({}, car), "- - -");
  EXPECT_EQ(rating({"eye"}, ""), "- - -");
}

TEST(Rigging, NamesGearThatDoesNotCount) {
  const auto named = [](int64_t from_us, const std::vector<std::string>& gears, int64_t to_us,
                        int64_t end_us) {
    const Job job({opened(), said(from_us, "operator", 2, rig(true, "eye", gears)),
                   said(to_us, "operator", 3, rig(false, "eye", {})), closed(end_us, 4)},
                  "", kDated);
    std::string text;
    for (const std::string& remark : job.state->rigging.gear_not_counting())
      text += remark.substr(0, remark.find(':')) + "; ";
    return text;
  };
  EXPECT_EQ(named(10, {"a", "b", "hook", "nobody's"}, 20, 30), "");
  EXPECT_EQ(named(10, {"knotted", "a", "scuffed", "knotted"}, 20, 30),
            "gear 'knotted' does not count; gear 'scuffed' may not count; ");
  EXPECT_EQ(named(10, {"due"}, kMidnight, kMidnight + 5), "");
  EXPECT_EQ(named(10, {"due"}, kMidnight + 1, kMidnight + 5), "gear 'due' does not count; ");
  EXPECT_EQ(named(kMidnight, {"due"}, kMidnight + 1, kMidnight + 5), "gear 'due' does not count; ");
  EXPECT_EQ(named(10, {"new"}, 20, 30), "gear 'new' does not count; ");
  EXPECT_EQ(named(kMidnight, {"new"}, kMidnight + 1, kMidnight + 5), "");
  // Up to the end of the job, no further.
  const auto left_on = [](int64_t end_us) {
    return Job({opened(), op(10, 2, rig(true, "eye", {"due"})), closed(end_us, 3)}, "", kDated)
        .state->rigging.gear_not_counting()
        .size();
  };
  EXPECT_EQ(left_on(kMidnight - 1), 0u);
  EXPECT_EQ(left_on(kMidnight), 1u);
}

}  // namespace
}  // namespace fairlead::judge
