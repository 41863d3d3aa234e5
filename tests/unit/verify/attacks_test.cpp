// A base that holds all of its keys and lies, in every way of the list, on histories that differ by
// seed. Each is caught, or the verifier says in words what it did not check. FAIRLEAD_SEEDS seeds a
// kind (3; the long form 100).
#include <gtest/gtest.h>

#include <cstdlib>

#include "clients/verify/steps.h"
#include "tests/unit/verify/attack_scene.h"

namespace fairlead::verifier {
namespace {

uint64_t seeds() {
  const char* text = std::getenv("FAIRLEAD_SEEDS");
  return text == nullptr ? 3 : std::strtoull(text, nullptr, 10);
}

int exit_of(const Verdicts& verdicts) { return static_cast<int>(verdicts.exit()); }

bool says(const Verdicts& verdicts, const Attack& attack) {
  if (attack.step == kAlways) return to_text(verdicts).find(attack.words) != std::string::npos;
  return std::ranges::any_of(verdicts.list(), [&](const Verdict& verdict) {
    return verdict.step == attack.step && verdict.words.find(attack.words) != std::string::npos;
  });
}

Verdicts look_at(Scene& s, const Attack& attack, bool trucks_saw, bool watched) {
  s.trucks_saw = trucks_saw;
  s.watched = watched;
  attack.act(s);
  if (s.bytes.empty()) s.bytes = s.job.base.seal(s.bundle);
  return check_bundle(s.bytes, s.job.base.policy(s.watched), s.pages);
}

/// The attack with nobody watching, or with those who can tell.
Verdicts look_at(const Attack& attack, uint64_t seed, bool trucks_saw, bool watched) {
  Scene s(seed);
  return look_at(s, attack, trucks_saw, watched);
}

void expect_caught(const Attack& attack, const Verdicts& verdicts) {
  EXPECT_GE(exit_of(verdicts), 2) << attack.name << "\n" << to_text(verdicts);
  EXPECT_TRUE(verdicts.failed(attack.step)) << attack.name << "\n" << to_text(verdicts);
  EXPECT_TRUE(says(verdicts, attack)) << attack.name << "\n" << to_text(verdicts);
}

void expect_said(const Attack& attack, const Verdicts& verdicts) {
  EXPECT_LE(exit_of(verdicts), 1) << attack.name << "\n" << to_text(verdicts);
  EXPECT_TRUE(says(verdicts, attack)) << attack.name << "\n" << to_text(verdicts);
}

void hold_to_promise(const Attack& attack, uint64_t seed) {
  switch (attack.by) {
    case By::kBundle:
      return expect_caught(attack, look_at(attack, seed, false, false));
    case By::kPolicy:
      return expect_caught(attack, look_at(attack, seed, false, true));
    case By::kSeenHead: {
      expect_caught(attack, look_at(attack, seed, true, false));
      // Nothing else tells: without the truck's memory it passes.
      const Verdicts blind = look_at(attack, seed, false, false);
      EXPECT_LE(exit_of(blind), 1) << attack.name << "\n" << to_text(blind);
      return;
    }
    case By::kCountersigner: {
      const Verdicts watched = look_at(attack, seed, false, true);
      expect_said(attack, watched);
      EXPECT_EQ(exit_of(watched), 1) << attack.name << "\n" << to_text(watched);
      return;
    }
    case By::kWords:
      return expect_said(attack, look_at(attack, seed, false, false));
  }
}

TEST(DishonestBase, TheHonestOnePasses) {
  for (uint64_t seed = 1; seed <= seeds(); ++seed) {
    for (const bool watched : {false, true}) {
      const Attack none{"nothing", By::kWords, 5, "no link is missing", [](Scene& s) {
                          s.record_job();
                          s.rewrite_as(s.history());
                        }};
      const Verdicts verdicts = look_at(none, seed, true, watched);
      EXPECT_EQ(exit_of(verdicts), watched ? 0 : 1) << to_text(verdicts);
      EXPECT_TRUE(says(verdicts, none)) << to_text(verdicts);
    }
  }
}

TEST(DishonestBase, EachKindIsCaughtOrTheVerifierSaysWhatItDidNotCheck) {
  size_t kinds = 0;
  for (const Attack& attack : all_attacks()) {
    for (uint64_t seed = 1; seed <= seeds(); ++seed) {
      hold_to_promise(attack, seed * 1000 + kinds);
    }
    ++kinds;
  }
  EXPECT_GE(kinds, 60u);
  std::printf("%zu kinds of attack, %llu seeds each\n", kinds,
              static_cast<unsigned long long>(seeds()));
}

TEST(DishonestBase, NamesAreTold) {
  std::set<std::string> names;
  for (const Attack& attack : all_attacks())
    EXPECT_TRUE(names.insert(attack.name).second) << attack.name;
}

}  // namespace
}  // namespace fairlead::verifier
