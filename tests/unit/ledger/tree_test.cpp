// Heads and proofs of the stored tree, checked with the verifying loops of RFC 9162 2.1.3.2 and
// 2.1.4.2 (daemon/record, tested against published vectors) and against the recursion of RFC
// 6962 2.1 written out here.
#include <fstream>

#include "daemon/record/merkle.h"
#include "tests/unit/ledger/ledger_world.h"

namespace fairlead::ledger {
namespace {

// MTH of RFC 6962 2.1, as it is printed.
Hash naive_root(const std::vector<Hash>& leaves, size_t from, size_t to) {
  if (to - from == 1) return leaves[from];
  size_t split = 1;
  while (split * 2 < to - from) split *= 2;
  return record::merkle_node_hash(naive_root(leaves, from, from + split),
                                  naive_root(leaves, from + split, to));
}

std::string content_of(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

TEST(Tree, EveryProofOfEverySizeVerifies) {
  const TestFolder folder;
  const auto ledger = open_or_fail(base_options(folder.path()));
  (void)enrol(*ledger, 1);
  TestTruck truck(1, *ledger->watermark(id_of(1)));
  std::vector<SentEntry> batch;
  for (int i = 0; i < 69; ++i) batch.push_back(truck.next());
  ASSERT_TRUE(ledger->append(batch).get());
  const auto entries = *ledger->entries(0, 1'000, false);
  std::vector<Hash> leaves;
  for (const auto& entry : entries)
    leaves.push_back(record::leaf_hash_of(entry.entry, entry.recv_us));
  ASSERT_EQ(70U, leaves.size());
  for (uint64_t size = 1; size <= leaves.size(); ++size) {
    const auto root = ledger->root_at(size);
    ASSERT_TRUE(root) << root.error().message;
    ASSERT_EQ(naive_root(leaves, 0, size), *root);
    for (uint64_t leaf = 0; leaf < size; leaf += 1 + size / 9) {
      const auto proof = ledger->inclusion(leaf, size);
      ASSERT_TRUE(proof) << proof.error().message;
      ASSERT_TRUE(record::verify_inclusion(leaf, size, leaves[leaf], *proof, *root));
    }
    for (uint64_t from = 1; from <= size; from += 1 + size / 9) {
      const auto proof = ledger->consistency(from, size);
      ASSERT_TRUE(proof) << proof.error().message;
      ASSERT_TRUE(record::verify_consistency(from, *ledger->root_at(from), size, *root, *proof));
    }
  }
  EXPECT_EQ(Code::kNotFound, ledger->root_at(71).error().code);
  EXPECT_FALSE(ledger->inclusion(70, 70));
}

TEST(Tree, AHeadIsInItsFileBeforeAnyoneSeesIt) {
  const TestFolder folder;
  const auto options = base_options(folder.path());
  const auto ledger = open_or_fail(options);
  std::promise<std::pair<SignedHead, std::string>> seen;
  bool first = true;
  ledger->on_head([&](const SignedHead& head) {
    if (std::exchange(first, false)) seen.set_value({head, content_of(options.head_file)});
  });
  (void)officer_writes(*ledger, Kind::kStart, "x");
  const auto began = std::chrono::steady_clock::now();
  auto future = seen.get_future();
  ASSERT_EQ(std::future_status::ready, future.wait_for(std::chrono::seconds(10)));
  EXPECT_LT(std::chrono::steady_clock::now() - began, std::chrono::seconds(2));
  const auto [head, file] = future.get();
  EXPECT_EQ(head.note, file);
  const auto checkpoint =
      record::open_checkpoint(*record::parse_note(head.note), options.signer->log);
  ASSERT_TRUE(checkpoint) << checkpoint.error().message;
  EXPECT_EQ(1U, checkpoint->size);
  EXPECT_EQ(*ledger->root_at(1), checkpoint->root);
  (void)officer_writes(*ledger, Kind::kStop, "y");
  EXPECT_EQ(2U, ledger->sign_head()->size);
  EXPECT_EQ(2U, ledger->head()->size);
}

TEST(Tree, NothingIsSignedBeforeItIsAllowed) {
  const TestFolder folder;
  auto options = base_options(folder.path());
  options.sign_at_once = false;
  const auto ledger = open_or_fail(options);
  (void)officer_writes(*ledger, Kind::kStart, "x");
  EXPECT_EQ(Code::kUnavailable, ledger->sign_head().error().code);
  EXPECT_FALSE(std::filesystem::exists(options.head_file));
  ledger->allow_signing();
  EXPECT_EQ(1U, ledger->sign_head()->size);
}

}  // namespace
}  // namespace fairlead::ledger
