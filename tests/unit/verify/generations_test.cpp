// A bundle of a log's second generation, with entries whose bodies were lost with the base's disk:
// good as it is, and what makes it none. No outside source: the record's own rules.
#include <gtest/gtest.h>

#include "clients/verify/steps.h"
#include "tests/unit/verify/later_generation.h"

namespace fairlead::verifier {
namespace {

Verdicts look_at(const LaterGeneration& later, const record::Bundle& bundle) {
  return check_bundle(later.job.base.seal(bundle), later.job.base.policy(false));
}

TEST(Generations, ALaterOneIsGoodAndSaysWhatIsLost) {
  LaterGeneration later;
  const Verdicts verdicts = look_at(later, later.bundle());
  EXPECT_EQ(verdicts.exit(), Exit::kProvenWithNotes) << to_text(verdicts);
  const std::string said = to_text(verdicts);
  EXPECT_NE(said.find("2 bodies are lost: the base lost its disk"), std::string::npos) << said;
  EXPECT_NE(said.find("a new generation of the log begins"), std::string::npos) << said;
}

TEST(Generations, WhatTheTruckDoesNotCallLostIsNot) {
  LaterGeneration later;
  record::Bundle bundle = later.bundle();
  bundle.entries[later.job.open_leaf + 1].form = record::BodyForm::kErased;
  EXPECT_TRUE(look_at(later, bundle).failed(7));
  // Nor is anything where the truck's word is not shown.
  bundle = later.bundle();
  bundle.entries[later.gap_leaf].form = record::BodyForm::kBare;
  EXPECT_TRUE(look_at(later, bundle).failed(7));
}

// In a log whose disk was never lost a base that withholds cannot lean on such a word.
TEST(Generations, WithoutASeamNothingIsLost) {
  SmallJob job;
  job.open();
  job.work();
  job.close();
  v1::GapBody gap;
  gap.set_channel("record");
  gap.add_lost_body_epoch(1);
  gap.add_lost_body_seq(job.base.leaves[job.note_leaf].header.seq);
  const uint64_t leaf = job.base.write(job.truck, record::Kind::kGap, gap.SerializeAsString());
  job.base.sign_head(false);
  record::Bundle bundle = job.bundle();
  bundle.entries[leaf].form = record::BodyForm::kBody;
  bundle.entries[leaf].salt = job.base.leaves[leaf].salt;
  bundle.entries[leaf].body = job.base.leaves[leaf].body;
  bundle.entries[job.note_leaf].form = record::BodyForm::kErased;
  const Verdicts verdicts = check_bundle(job.base.seal(bundle), job.base.policy(false));
  EXPECT_TRUE(verdicts.failed(7)) << to_text(verdicts);
}

}  // namespace
}  // namespace fairlead::verifier
