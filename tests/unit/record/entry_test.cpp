// Entry bytes: every field at its offset, every check, every bit.
#include "daemon/record/entry.h"

#include <gtest/gtest.h>

#include "daemon/record/commitment.h"
#include "daemon/record/leaf.h"
#include "daemon/record/merkle.h"

namespace fairlead::record {
namespace {

template <size_t N>
ByteArray<N> filled(uint8_t value) {
  ByteArray<N> out;
  out.fill(value);
  return out;
}

EntryHeader full_header() {
  EntryHeader h;
  h.kind = Kind::kJobOpen;
  h.ledger_id = filled<16>(0x11);
  h.device_id = filled<16>(0x22);
  h.epoch = 0x01020304;
  h.key_id = filled<4>(0x33);
  h.seq = 0x05060708090a0b0c;
  h.prev = filled<32>(0x44);
  h.wall_us = -2;
  h.mono_us = 0x1112131415161718;
  h.boot_id = filled<16>(0x55);
  h.time_source = TimeSource::kGnss;
  h.time_uncertainty_ms = 0x21222324;
  h.seen_size = 0x3132333435363738;
  h.seen_root = filled<32>(0x66);
  h.job_id = filled<16>(0x77);
  h.body_len = 0x0000a1a2;
  h.body_commit = filled<32>(0x88);
  return h;
}

std::string repeat(const char* pair, int times) {
  std::string out;
  for (int i = 0; i < times; ++i) out += pair;
  return out;
}

TEST(Entry, EveryFieldAtItsOffset) {
  const std::string expected =
      "464c4531"
      "04"
      "00"
      "0000" +
      repeat("11", 16) + repeat("22", 16) + "01020304" + repeat("33", 4) + "05060708090a0b0c" +
      repeat("44", 32) + "fffffffffffffffe" + "1112131415161718" + repeat("55", 16) +
      "03"
      "000000"
      "21222324"
      "3132333435363738" +
      repeat("66", 32) + repeat("77", 16) +
      "0000a1a2"
      "00000000" +
      repeat("88", 32);
  EXPECT_EQ(hex_of(encode_header(full_header())), expected);
  const auto read = decode_header(view_of(encode_header(full_header())));
  ASSERT_TRUE(read.has_value()) << read.error().message;
  EXPECT_EQ(*read, full_header());
}

struct Misfit {
  size_t at;
  uint8_t value;
  const char* names;
};

TEST(Entry, EachBrokenFieldIsNamed) {
  const Misfit misfits[] = {
      {0, 'X', "magic"},       {3, '2', "magic"},       {4, 0, "kind"},     {4, 13, "kind"},
      {4, 63, "kind"},         {4, 82, "kind"},         {5, 1, "flags"},    {6, 1, "filler"},
      {7, 1, "filler"},        {120, 4, "time_source"}, {121, 1, "filler"}, {123, 1, "filler"},
      {186, 0xf0, "body_len"}, {185, 1, "body_len"},    {188, 1, "filler"}, {191, 1, "filler"}};
  for (const Misfit& misfit : misfits) {
    HeaderBytes bytes = encode_header(full_header());
    bytes[misfit.at] = misfit.value;
    if (misfit.at == 186) bytes[187] = 0x01;  // 61,441.
    const auto read = decode_header(view_of(bytes));
    ASSERT_FALSE(read.has_value()) << misfit.at;
    EXPECT_NE(read.error().message.find(misfit.names), std::string::npos) << read.error().message;
  }
  for (auto change : {+[](EntryHeader& h) { h.epoch = 0; }, +[](EntryHeader& h) { h.seq = 0; },
                      +[](EntryHeader& h) { h.seen_size = 0; }}) {
    EntryHeader h = full_header();
    change(h);
    EXPECT_FALSE(decode_header(view_of(encode_header(h))).has_value());
  }
  EXPECT_FALSE(decode_header(std::string(223, 'x')).has_value());
  EXPECT_FALSE(decode_header(std::string(225, 'x')).has_value());
  EntryHeader most = full_header();
  most.body_len = kMaxBodySize;
  EXPECT_TRUE(decode_header(view_of(encode_header(most))).has_value());
}

TEST(Entry, EveryFlippedBitIsFound) {
  const SecretKey key = SecretKey::generate();
  const EntryBytes entry = sign_entry(full_header(), key);
  ASSERT_TRUE(verify_entry(entry, key.public_key()));
  EXPECT_EQ(decode_header(entry)->key_id, key_id_of(key.public_key()));
  EXPECT_FALSE(verify_entry(entry, SecretKey::generate().public_key()));
  for (size_t bit = 0; bit < kEntrySize * 8; ++bit) {
    EntryBytes bad = entry;
    bad[bit / 8] ^= static_cast<uint8_t>(1u << (bit % 8));
    EXPECT_FALSE(verify_entry(bad, key.public_key())) << bit;
    EXPECT_NE(chain_of(bad), chain_of(entry));
    EXPECT_NE(leaf_hash_of(bad, 5), leaf_hash_of(entry, 5));
  }
}

// The labels written out once more, independently of the code under test.
TEST(Entry, LabelsAreTheOnesOfTheFormat) {
  const SecretKey key = SecretKey::generate();
  const EntryBytes entry = sign_entry(full_header(), key);
  Signature signature;
  std::memcpy(signature.bytes.data(), &entry[224], 64);
  EXPECT_TRUE(verify(key.public_key(),
                     "fairlead/entry/v1\n" + std::string(view_of(entry).substr(0, 224)),
                     signature));
  EXPECT_EQ(chain_of(entry), sha256("fairlead/chain/v1\n" + string_of(entry)));
  EXPECT_EQ(genesis_of(sha256("x")), sha256("fairlead/genesis/v1\n" + string_of(sha256("x"))));
  const Salt salt = filled<16>(9);
  EXPECT_EQ(commit_body(salt, "body"), sha256("fairlead/body/v1\n" + string_of(salt) + "body"));
  std::string leaf("\0\1", 2);
  leaf += view_of(entry);
  append_be(leaf, uint64_t{258});
  EXPECT_EQ(leaf.size(), 298u);
  EXPECT_EQ(leaf_hash_of(entry, 258), sha256(leaf));
  const std::string origin = "base/fairlead/g1";
  EXPECT_EQ(view_of(ledger_id_of(origin)), view_of(sha256(origin)).substr(0, 16));
  EXPECT_EQ(view_of(key_id_of(key.public_key())),
            view_of(sha256(view_of(key.public_key().bytes))).substr(0, 4));
}

TEST(Commitment, BindsLengthSaltAndBody) {
  EntryHeader h = full_header();
  const Salt salt = random_array<16>();
  ASSERT_TRUE(bind_body(h, salt, "body").has_value());
  EXPECT_EQ(h.body_len, 4u);
  EXPECT_TRUE(body_matches(h, salt, "body"));
  EXPECT_FALSE(body_matches(h, salt, "bodY"));
  EXPECT_FALSE(body_matches(h, salt, "body "));
  EXPECT_FALSE(body_matches(h, random_array<16>(), "body"));
  EXPECT_TRUE(bind_body(h, salt, std::string(kMaxBodySize, 'x')).has_value());
  const auto over = bind_body(h, salt, std::string(kMaxBodySize + 1, 'x'));
  ASSERT_FALSE(over.has_value());
  EXPECT_NE(over.error().message.find("61440"), std::string::npos);
}

TEST(Kind, NamesAndSigners) {
  int named = 0;
  for (unsigned number = 0; number < 256; ++number) {
    const auto kind = static_cast<Kind>(number);
    EXPECT_EQ(kind_name(kind) == "kind " + std::to_string(number),
              !is_kind(static_cast<uint8_t>(number)));
    if (is_kind(static_cast<uint8_t>(number))) ++named;
  }
  EXPECT_EQ(named, 30);
  EXPECT_TRUE(is_service_kind(Kind::kFinding));
  EXPECT_FALSE(is_service_kind(Kind::kEnrol));
  EXPECT_FALSE(is_base_kind(Kind::kInForce));
  EXPECT_TRUE(is_base_kind(Kind::kRoster));
}

}  // namespace
}  // namespace fairlead::record
