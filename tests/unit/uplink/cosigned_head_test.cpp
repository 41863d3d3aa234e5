// A countersigned head on its way to a truck: told once, kept, and refused when it does not fit the
// head it came with. Proofs follow RFC 9162 2.1.4, cosignatures C2SP tlog-cosignature.
#include <gtest/gtest.h>

#include "daemon/record/checkpoint.h"
#include "daemon/uplink/uplink_state.h"
#include "tests/unit/uplink/memory_truck.h"
#include "tests/unit/uplink/temp_base.h"

namespace fairlead {
namespace {

class CosignedHead : public testing::Test {
 protected:
  void SetUp() override {
    base_.ledger().allow_signing();
    const auto hello = up_.greet();
    ASSERT_TRUE(hello.has_value()) << hello.error().message;
    const auto step = down_.take(*hello);
    for (const v1::Reply& reply : step.replies) ASSERT_TRUE(up_.take(reply).has_value());
    const auto head = base_.ledger().sign_head();
    ASSERT_TRUE(head.has_value());
    const auto key = record::make_verifier_key(
        "insurer.example/heads", record::NoteKeyType::kCosignature, secret_.public_key());
    const auto text = record::parse_note(head->note)->text;
    v1::HeadCosignedBody body;
    body.set_note(head->note + *record::cosignature_line(text, *key, secret_, 1'795'000'000));
    note_ = body.note();
    size_ = head->size;
    const auto written = base_.office().write(record::Kind::kHeadCosigned, {}, body);
    ASSERT_TRUE(written.has_value());
    ASSERT_TRUE(heads_.add(note_, base_.office().origin(), written->leaf).has_value());
    leaf_ = written->leaf;
  }
  [[nodiscard]] v1::Reply news() {
    const auto head = base_.ledger().sign_head();
    auto reply = down_.head_news(*head);
    EXPECT_TRUE(reply.has_value());
    down_.add_cosigned(heads_, *head, *reply);
    return *reply;
  }

  test::TempBase base_;
  test::MemoryTruck truck_{"OW-09"};
  uplink::UplinkState up_{truck_};
  intake::IntakeState down_{base_.ledger(), base_.devices(), true};
  watch::CosignedHeads heads_;
  SecretKey secret_ = SecretKey::generate();
  std::string note_;
  uint64_t size_ = 0, leaf_ = 0;
};

TEST_F(CosignedHead, IsToldOnceAndKeptWithItsSignatures) {
  const v1::Reply first = news();
  EXPECT_EQ(first.head().cosigned(), note_);
  const auto taken = up_.take(first);
  ASSERT_TRUE(taken.has_value()) << taken.error().message;
  EXPECT_EQ(truck_.cosigned(), note_);
  // The head it came with covers the HEAD_COSIGNED entry: what the truck records from now on is
  // provably later than the cosignature.
  EXPECT_GT(truck_.head().size, leaf_);
  const auto bracket = heads_.bracket(truck_.head().size, truck_.head().size, 1);
  EXPECT_EQ(bracket.not_before_s, 1'795'000'000u);
  base_.order("more");
  EXPECT_TRUE(news().head().cosigned().empty());
}

TEST_F(CosignedHead, ThatDoesNotBelongToTheHeadEndsTheConnection) {
  v1::Reply other_proof = news();
  ASSERT_GT(other_proof.head().cosigned_consistency_size(), 0);
  (*other_proof.mutable_head()->mutable_cosigned_consistency(0))[0] ^= 1;
  EXPECT_EQ(up_.take(other_proof).error().code, Code::kConflict);
  EXPECT_TRUE(truck_.cosigned().empty());
}

TEST_F(CosignedHead, ByAnotherLogEndsTheConnection) {
  v1::Reply forged = news();
  std::string text = note_;
  text.replace(text.find('\n') + 1, 1, "9");
  forged.mutable_head()->set_cosigned(text);
  EXPECT_EQ(up_.take(forged).error().code, Code::kConflict);
  EXPECT_TRUE(truck_.cosigned().empty());
}

}  // namespace
}  // namespace fairlead
