// SHA-256 against the examples NIST publishes for FIPS 180-4 (csrc.nist.gov, "Cryptographic
// Standards and Guidelines: Example Values", SHA256.pdf), the same as RFC 6234 section 8.5.
// Built once with each backend.
#include <gtest/gtest.h>

#include <sstream>

#include "daemon/base/crypto.h"

namespace fairlead {
namespace {

TEST(Sha256, PublishedExamples) {
  EXPECT_EQ(hex_of(sha256("abc")),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  EXPECT_EQ(hex_of(sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq")),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
  EXPECT_EQ(hex_of(sha256(std::string(1'000'000, 'a'))),
            "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
  EXPECT_EQ(hex_of(sha256("")), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST(Sha256, PiecesGiveTheSameHash) {
  Sha256 hasher;
  for (int i = 0; i < 1000; ++i) hasher.update(std::string(1000, 'a'));
  EXPECT_EQ(hasher.finish(), sha256(std::string(1'000'000, 'a')));
  // It starts afresh after finish.
  hasher.update("ab");
  hasher.update("c");
  EXPECT_EQ(hasher.finish(), sha256("abc"));
  EXPECT_EQ(sha256({"a", "", "bc"}), sha256("abc"));
}

}  // namespace
}  // namespace fairlead
