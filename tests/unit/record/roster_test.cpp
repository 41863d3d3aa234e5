// The roster: what it says comes back, and nothing else is read.
#include "daemon/record/roster.h"

#include <gtest/gtest.h>

namespace fairlead::record {
namespace {

struct Keys {
  SecretKey root = SecretKey::generate();
  SecretKey log = SecretKey::generate();
  SecretKey admin = SecretKey::generate();
  SecretKey service = SecretKey::generate();
};

VerifierKey named(std::string_view name, const SecretKey& key) {
  return make_verifier_key(name, NoteKeyType::kEd25519, key.public_key()).value_or(VerifierKey{});
}

Roster roster_of(const Keys& keys) {
  Roster roster;
  roster.base_name = "base.example";
  roster.root = named("base.example/fairlead/root", keys.root);
  roster.log = named("base.example/fairlead/g1", keys.log);
  roster.admins.push_back({random_array<16>(), named("base.example/fairlead/admin", keys.admin)});
  roster.services.push_back(
      {random_array<16>(), named("base.example/fairlead/watch", keys.service)});
  return roster;
}

TEST(Roster, ReadsBack) {
  const Keys keys;
  const Roster roster = roster_of(keys);
  const auto note = sign_roster(roster, keys.root);
  ASSERT_TRUE(note.has_value()) << note.error().message;
  const auto read = open_roster(*note);
  ASSERT_TRUE(read.has_value()) << read.error().message;
  EXPECT_EQ(*read, roster);
  EXPECT_EQ(roster_fingerprint(*note), sha256(*note));
}

TEST(Roster, NoFlippedBitPassesUnderTheSameRoot) {
  const Keys keys;
  std::string note = *sign_roster(roster_of(keys), keys.root);
  for (size_t bit = 0; bit < note.size() * 8; ++bit) {
    note[bit / 8] = static_cast<char>(note[bit / 8] ^ (1 << (bit % 8)));
    const auto read = open_roster(note);
    EXPECT_FALSE(read && read->root.key == keys.root.public_key()) << bit;
    note[bit / 8] = static_cast<char>(note[bit / 8] ^ (1 << (bit % 8)));
  }
}

TEST(Roster, MisfitsAreRefused) {
  const Keys keys;
  for (auto change :
       {+[](Roster& r) { r.admins.clear(); }, +[](Roster& r) { r.base_name = "a b"; },
        +[](Roster& r) { r.services[0].key = r.admins[0].key; },
        +[](Roster& r) { r.services[0].device_id = r.admins[0].device_id; },
        +[](Roster& r) { r.admins[0].device_id = {}; }, +[](Roster& r) { r.log = r.root; },
        +[](Roster& r) { r.base_name = "other.example"; }}) {
    Roster roster = roster_of(keys);
    change(roster);
    const auto note = sign_roster(roster, keys.root);
    EXPECT_FALSE(note.has_value());
  }
  EXPECT_FALSE(sign_roster(roster_of(keys), keys.admin).has_value());
  const auto text = "fairlead roster v1\nbase b\nowner x\n";
  const auto odd = sign_note(text, named("b/fairlead/root", keys.root), keys.root);
  const auto read = open_roster(*odd);
  ASSERT_FALSE(read.has_value());
  EXPECT_NE(read.error().message.find("line 3"), std::string::npos) << read.error().message;
}

}  // namespace
}  // namespace fairlead::record
