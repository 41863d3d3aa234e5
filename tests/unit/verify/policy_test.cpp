// The insurer's policy file: what pin writes is what check reads, and nothing else is taken.
#include "clients/verify/policy.h"

#include <gtest/gtest.h>

#include "tests/unit/verify/small_base.h"

namespace fairlead::verifier {
namespace {

TEST(Policy, PinWritesWhatCheckReads) {
  const SmallBase base;
  const auto made = pin({base.roster}, record::format_verifier_key(base.log),
                        {record::format_verifier_key(base.countersigner)}, 1);
  ASSERT_TRUE(made.has_value()) << made.error().message;
  const auto read = parse_policy("# contract 12\n" + format_policy(*made));
  ASSERT_TRUE(read.has_value()) << read.error().message;
  EXPECT_EQ(read->log, base.log);
  EXPECT_EQ(read->origin(), "lot.example/fairlead/g1");
  ASSERT_EQ(read->rosters.size(), 1u);
  EXPECT_EQ(read->rosters[0], sha256(base.roster));
  ASSERT_EQ(read->countersigners.size(), 1u);
  EXPECT_EQ(read->countersigners[0], base.countersigner);
}

TEST(Policy, PinRefusesWhatDoesNotFit) {
  const SmallBase base, other;
  const std::string log = record::format_verifier_key(base.log);
  const std::string witness = record::format_verifier_key(base.countersigner);
  EXPECT_FALSE(pin({base.roster}, record::format_verifier_key(other.log), {}, 1).has_value());
  const std::string bent = base.roster + "x";
  EXPECT_FALSE(pin({bent}, log, {}, 1).has_value());
  EXPECT_FALSE(pin({base.roster}, log, {log}, 1).has_value());
  EXPECT_FALSE(pin({base.roster}, log, {witness, witness}, 1).has_value());
  EXPECT_FALSE(pin({base.roster}, log, {witness}, 2).has_value());
}

TEST(Policy, FaultsNameTheLine) {
  const SmallBase base;
  const std::string good =
      format_policy(*pin({base.roster}, record::format_verifier_key(base.log), {}, 1));
  const std::pair<std::string, const char*> cases[] = {{"", "names no log"},
                                                       {"hello\n", "line 1"},
                                                       {good + "witness x\n", "line 4"},
                                                       {good + "threshold 0\n", "line 4"},
                                                       {good + "roster 00\n", "line 4"},
                                                       {good + "threshold 3\n", "threshold"},
                                                       {"fairlead policy v1\nlog x\n", "line 2"}};
  for (const auto& [text, words] : cases) {
    const auto read = parse_policy(text);
    ASSERT_FALSE(read.has_value()) << text;
    EXPECT_NE(read.error().message.find(words), std::string::npos) << read.error().message;
  }
}

}  // namespace
}  // namespace fairlead::verifier
