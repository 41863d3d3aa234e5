// Ed25519 against RFC 8032 section 7.1 and, where the folder is there, two published sets of edge
// cases. The record's profile is strict: whatever a lenient library takes beyond it must be
// refused.
#include <gtest/gtest.h>

#include "daemon/base/crypto.h"
#include "tests/unit/record/vectors.h"

namespace fairlead {
namespace {

struct Known {
  const char* seed;
  const char* key;
  const char* message;
  const char* signature;
};

// RFC 8032 7.1, TEST 1, TEST 2, TEST 3.
constexpr Known kRfc8032[] = {
    {"9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
     "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a", "",
     "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b"
     "4"
     "6bd25bf5f0595bbe24655141438e7a100b"},
    {"4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
     "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c", "72",
     "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11"
     "d"
     "8c387b2eaeb4302aeeb00d291612bb0c00"},
    {"c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
     "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025", "af82",
     "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc"
     "6"
     "594a7c15e9716ed28dc027beceea1ec40a"},
};

Signature signature_of(const std::string& bytes) {
  auto array = array_of<64>(bytes, "signature");
  EXPECT_TRUE(array.has_value());
  return Signature{array.value_or(ByteArray<64>{})};
}

/// What a caller sees who gets the three as byte strings: other lengths are refused.
bool verify_bytes(const std::string& key, const std::string& message,
                  const std::string& signature) {
  const auto key_bytes = array_of<32>(key, "key");
  const auto signature_bytes = array_of<64>(signature, "signature");
  return key_bytes && signature_bytes &&
         verify(PublicKey{*key_bytes}, message, Signature{*signature_bytes});
}

TEST(Ed25519, Rfc8032SignsAndVerifies) {
  for (const Known& known : kRfc8032) {
    auto key = SecretKey::from_seed(vectors::from_hex(known.seed));
    ASSERT_TRUE(key.has_value());
    const std::string message = vectors::from_hex(known.message);
    EXPECT_EQ(hex_of(key->public_key().bytes), known.key);
    EXPECT_EQ(hex_of(key->sign(message).bytes), known.signature);
    EXPECT_TRUE(verify(key->public_key(), message, key->sign(message)));
    EXPECT_FALSE(verify(key->public_key(), message + "x", key->sign(message)));
  }
}

TEST(Ed25519, EveryFlippedBitOfASignatureIsRefused) {
  const SecretKey key = SecretKey::generate();
  const Signature good = key.sign("message");
  for (size_t bit = 0; bit < 512; ++bit) {
    Signature bad = good;
    bad.bytes[bit / 8] ^= static_cast<uint8_t>(1u << (bit % 8));
    EXPECT_FALSE(verify(key.public_key(), "message", bad)) << bit;
  }
}

TEST(Ed25519, Rfc8032File) {
  const auto file = vectors::load("ed25519_rfc8032.json");
  if (!file) return;
  ASSERT_EQ(file->at(0).size(), 5u);
  for (const auto& test : file->at(0)) {
    auto key = SecretKey::from_seed(vectors::from_hex(test["secret_key"]));
    ASSERT_TRUE(key.has_value());
    const std::string message = vectors::from_hex(test["message"]);
    EXPECT_EQ(hex_of(key->public_key().bytes), test["public_key"].get<std::string>());
    EXPECT_EQ(key->sign(message), signature_of(vectors::from_hex(test["signature"])));
  }
}

TEST(Ed25519, WycheproofFile) {
  const auto file = vectors::load("ed25519_wycheproof.jsonl");
  if (!file) return;
  int checked = 0;
  for (const auto& test : *file) {
    if (!test.contains("tcId")) continue;
    EXPECT_EQ(verify_bytes(vectors::from_hex(test["pk"]), vectors::from_hex(test["msg"]),
                           vectors::from_hex(test["sig"])),
              test["result"] == "valid")
        << test["tcId"];
    ++checked;
  }
  EXPECT_EQ(checked, 151);
}

TEST(Ed25519, EdgeCasesFileAcceptsOnlyTheStrictOnes) {
  const auto file = vectors::load("ed25519_cctv_edge.jsonl");
  if (!file) return;
  int accepted = 0, refused = 0;
  for (const auto& test : *file) {
    if (!test.contains("n")) continue;
    bool strict = true;
    for (const char* flag : {"low_order_A", "low_order_R", "non_canonical_A", "non_canonical_R",
                             "low_order_residue"}) {
      const auto& flags = test["flags"];
      if (std::find(flags.begin(), flags.end(), flag) != flags.end()) strict = false;
    }
    const bool good = verify_bytes(vectors::from_hex(test["key"]), test["msg"].get<std::string>(),
                                   vectors::from_hex(test["sig"]));
    EXPECT_EQ(good, strict) << test["n"];
    ++(good ? accepted : refused);
  }
  EXPECT_EQ(accepted, 43);
  EXPECT_EQ(refused, 871);
}

TEST(SecretKey, TextReadsBackAndOtherTextIsRefused) {
  const SecretKey key = SecretKey::generate();
  const SecretText text = key.to_text();
  auto again = SecretKey::from_text(text.view());
  ASSERT_TRUE(again.has_value());
  EXPECT_EQ(again->public_key(), key.public_key());
  EXPECT_EQ(again->sign("x"), key.sign("x"));
  EXPECT_FALSE(SecretKey::from_text("").has_value());
  EXPECT_FALSE(SecretKey::from_text("fairlead-secret-key-v1 AAAA").has_value());
  EXPECT_FALSE(SecretKey::from_text(std::string(text.view()) + "more").has_value());
  EXPECT_FALSE(SecretKey::from_seed("short").has_value());
  SecretKey moved = std::move(*again);
  EXPECT_TRUE(verify(key.public_key(), "y", moved.sign("y")));
}

TEST(SecretKey, TwoKeysDiffer) {
  EXPECT_NE(SecretKey::generate().public_key(), SecretKey::generate().public_key());
  EXPECT_NE(random_array<16>(), random_array<16>());
}

// RFC 4648 section 10.
TEST(Base64, Rfc4648ExamplesBothWays) {
  const std::pair<const char*, const char*> known[] = {{"", ""},
                                                       {"f", "Zg=="},
                                                       {"fo", "Zm8="},
                                                       {"foo", "Zm9v"},
                                                       {"foob", "Zm9vYg=="},
                                                       {"fooba", "Zm9vYmE="},
                                                       {"foobar", "Zm9vYmFy"}};
  for (const auto& [plain, text] : known) {
    EXPECT_EQ(base64_of(plain), text);
    EXPECT_EQ(bytes_of_base64(text, "x").value_or("?"), plain);
  }
}

TEST(Base64, OnlyTheCanonicalSpellingIsRead) {
  // Unused bits set (RFC 4648 3.5), padding missing or wrong, white space, URL alphabet.
  for (const char* text :
       {"Zh==", "Zm9=", "Zg", "Zg=", "Zg===", "Zm9v\n", "Zm 9v", "Zm9v=", "-_-_", "Zg==Zg=="}) {
    EXPECT_FALSE(bytes_of_base64(text, "x").has_value()) << text;
  }
}

TEST(Hex, LowerCasePairsOnly) {
  EXPECT_EQ(hex_of("\x01\xab"), "01ab");
  EXPECT_EQ(bytes_of_hex("01ab", "x").value_or("?"), "\x01\xab");
  for (const char* text : {"0", "0G", "AB", " 0", "0x"}) {
    EXPECT_FALSE(bytes_of_hex(text, "x").has_value()) << text;
  }
}

}  // namespace
}  // namespace fairlead
