// The bundle's form: what is written is read, and the strict reader takes nothing else.
#include "daemon/record/bundle.h"

#include <gtest/gtest.h>

#include <functional>

#include "daemon/record/checkpoint.h"
#include "daemon/record/leaf.h"

namespace fairlead::record {
namespace {

constexpr char kOrigin[] = "lot.example/fairlead/g1";

struct Made {
  SecretKey secret = SecretKey::generate();
  VerifierKey log = *make_verifier_key(kOrigin, NoteKeyType::kEd25519, secret.public_key());
  std::string head = *sign_checkpoint({kOrigin, 1, sha256("root")}, log, secret);
  std::string file = "a file", stamp = "a stamp", body = "a body";
  Bundle bundle;

  Made() {
    bundle.meta = "meta";
    bundle.heads = {head};
    bundle.roster = "roster";
    for (uint64_t leaf : {3u, 8u, 9u}) {
      BundleEntry entry;
      entry.leaf = leaf;
      entry.recv_us = -1;
      EntryHeader header;
      header.seq = leaf;
      entry.entry = sign_entry(header, secret);
      entry.path = {sha256("a"), sha256("b")};
      entry.form = static_cast<BodyForm>(bundle.entries.size());
      if (entry.form == BodyForm::kBody) {
        entry.salt = random_array<16>();
        entry.body = body;
      }
      bundle.entries.push_back(entry);
    }
    bundle.consistency.push_back({5, {sha256("c")}});
    bundle.files.push_back({sha256(file), file});
    bundle.stamps.push_back(stamp);
  }
  [[nodiscard]] Result<std::string> write() const {
    return write_bundle(bundle, kOrigin, log, secret);
  }
};

TEST(Bundle, ReadsBackWhatWasWritten) {
  const Made made;
  const auto bytes = made.write();
  ASSERT_TRUE(bytes.has_value()) << bytes.error().message;
  const auto read = read_bundle(*bytes);
  ASSERT_TRUE(read.has_value()) << read.error().message;
  EXPECT_EQ(read->meta, "meta");
  EXPECT_EQ(read->heads, made.bundle.heads);
  EXPECT_EQ(read->roster, "roster");
  ASSERT_EQ(read->entries.size(), 3u);
  for (size_t i = 0; i < 3; ++i) {
    const BundleEntry &a = read->entries[i], &b = made.bundle.entries[i];
    EXPECT_EQ(a.leaf, b.leaf);
    EXPECT_EQ(a.recv_us, -1);
    EXPECT_EQ(a.entry, b.entry);
    EXPECT_EQ(a.path, b.path);
    EXPECT_EQ(a.form, b.form);
    EXPECT_EQ(a.salt, b.salt);
    EXPECT_EQ(a.body, b.body);
  }
  ASSERT_EQ(read->consistency.size(), 1u);
  EXPECT_EQ(read->consistency[0].size, 5u);
  EXPECT_EQ(read->files[0].bytes, "a file");
  EXPECT_EQ(read->stamps, made.bundle.stamps);
  const auto seal = parse_note(read->seal);
  ASSERT_TRUE(seal.has_value());
  EXPECT_TRUE(verify_note(*seal, made.log));
  EXPECT_EQ(seal->text,
            std::string(kOrigin) + "/bundle\n" + hex_of(sha256(read->sealed_part)) + "\n");
  EXPECT_EQ(read->sealed_part, bytes->substr(0, bytes->size() - read->seal.size() - 9));
}

TEST(Bundle, EveryTruncationIsRefused) {
  const auto bytes = Made().write();
  ASSERT_TRUE(bytes.has_value());
  for (size_t size = 0; size < bytes->size(); ++size) {
    EXPECT_FALSE(read_bundle(std::string_view(*bytes).substr(0, size)).has_value()) << size;
  }
  EXPECT_FALSE(read_bundle(*bytes + '\0').has_value());
}

TEST(Bundle, OutOfOrderOrOverTheCapsIsRefused) {
  const std::function<void(Made&)> changes[] = {
      [](Made& m) { m.bundle.heads.clear(); },
      [](Made& m) { m.bundle.entries.clear(); },
      [](Made& m) { std::swap(m.bundle.entries[0], m.bundle.entries[1]); },
      [](Made& m) { m.bundle.entries[1].leaf = m.bundle.entries[0].leaf; },
      [](Made& m) { m.bundle.entries[0].path.resize(64); },
      [](Made& m) { m.bundle.entries[0].entry[0] = 'X'; },
      [](Made& m) { m.body.assign(kMaxBodySize + 1, 'x'), m.bundle.entries[1].body = m.body; },
      [](Made& m) { m.bundle.consistency.push_back({5, {}}); },
      [](Made& m) { m.bundle.consistency[0].size = 0; },
      [](Made& m) { m.bundle.files.push_back(m.bundle.files[0]); },
      [](Made& m) { m.head.assign(kMaxNoteSize + 1, 'x'), m.bundle.heads = {m.head}; },
  };
  for (size_t i = 0; i < std::size(changes); ++i) {
    Made made;
    ASSERT_TRUE(made.write().has_value());
    changes[i](made);
    const auto bytes = made.write();
    ASSERT_FALSE(bytes.has_value()) << i;
    EXPECT_EQ(bytes.error().code, Code::kBadInput);
  }
}

TEST(Bundle, LengthsThatLieCostNothing) {
  // A section, a note and a body that claim more than there is: refused before anything is
  // reserved.
  std::string huge = "FLB1\x01";
  append_be(huge, UINT64_MAX);
  EXPECT_FALSE(read_bundle(huge).has_value());
  std::string note = "FLB1\x02";
  append_be(note, uint64_t{4});
  append_be(note, UINT32_MAX);
  EXPECT_FALSE(read_bundle(note).has_value());
  std::string twice = "FLB1\x01";
  append_be(twice, uint64_t{0});
  twice += '\x01';
  append_be(twice, uint64_t{0});
  const auto read = read_bundle(twice);
  ASSERT_FALSE(read.has_value());
  EXPECT_NE(read.error().message.find("out of order"), std::string::npos);
  const auto pdf = read_bundle("%PDF-1.7");
  ASSERT_FALSE(pdf.has_value());
  EXPECT_NE(pdf.error().message.find("PDF report"), std::string::npos);
}

}  // namespace
}  // namespace fairlead::record
