// The one-time code, the device line, and what officers and keys sign. The alphabet is Crockford's
// base 32 (crockford.com, "Base 32", from memory): no I, L, O, U; I and L read as 1, O as 0.
#include "daemon/record/enrolment.h"

#include <gtest/gtest.h>

#include <set>

namespace fairlead::record {
namespace {

TEST(Code, IsReadAsPeopleTypeIt) {
  EXPECT_EQ(read_code("7K3M-9QPD").value(), "7K3M-9QPD");
  EXPECT_EQ(read_code("7k3m9qpd").value(), "7K3M-9QPD");
  EXPECT_EQ(read_code(" oil0-1lo0 ").value(), "0110-1100");
  for (const char* bad : {"", "7K3M", "7K3M-9QP", "7K3M-9QPDX", "7K3M-9QPU", "7K3M-9Q*D"}) {
    EXPECT_FALSE(read_code(bad)) << bad;
  }
  std::set<std::string> seen;
  for (int i = 0; i < 1'000; ++i) {
    const std::string code = make_code();
    EXPECT_EQ(read_code(code).value(), code);
    EXPECT_EQ(code.find_first_of("ILOU"), std::string::npos) << code;
    seen.insert(code);
  }
  EXPECT_EQ(seen.size(), 1'000u);
}

DeviceLine some_line() {
  DeviceLine line{"OW-04", {}, SecretKey::generate().public_key(), {}, 1'800'000'000'000'000};
  line.device_id = random_array<16>();
  line.binding = bind_code("7K3M-9QPD", line);
  return line;
}

TEST(DeviceLine, IsReadAsItIsWritten) {
  const DeviceLine line = some_line();
  EXPECT_EQ(parse_device_line(format_device_line(line)).value(), line);
  std::string text = format_device_line(line);
  EXPECT_FALSE(parse_device_line(text.substr(0, text.size() - 18)));
  EXPECT_FALSE(parse_device_line("fairlead-device-v1 a b c"));
  EXPECT_FALSE(parse_device_line(text + " more"));
}

TEST(DeviceLine, TheCodeIsBoundToDeviceKeyAndTime) {
  const DeviceLine line = some_line();
  EXPECT_EQ(bind_code("7K3M-9QPD", line), line.binding);
  EXPECT_NE(bind_code("7K3M-9QPE", line), line.binding);
  DeviceLine other = line;
  other.key = SecretKey::generate().public_key();
  EXPECT_NE(bind_code("7K3M-9QPD", other), line.binding);
  other = line;
  other.device_id[0] ^= 1;
  EXPECT_NE(bind_code("7K3M-9QPD", other), line.binding);
  other = line;
  ++other.until_us;
  EXPECT_NE(bind_code("7K3M-9QPD", other), line.binding);
}

VerifierKey named(const std::string& name, const SecretKey& key) {
  return make_verifier_key(name, NoteKeyType::kEd25519, key.public_key()).value();
}

struct House {
  SecretKey root = SecretKey::generate(), log = SecretKey::generate(),
            admin = SecretKey::generate(), service = SecretKey::generate(),
            anna = SecretKey::generate();
  Roster roster;
  House() {
    roster.base_name = "ozzlewick";
    roster.root = named("ozzlewick/root", root);
    roster.log = named("ozzlewick/fairlead/g1", log);
    roster.admins = {{random_array<16>(), named("ozzlewick/admin", admin)}};
    roster.services = {{random_array<16>(), named("ozzlewick/service", service)}};
    roster.officers = {named("ozzlewick/officer-anna", anna)};
  }
};

TEST(Officer, SignsForOneDeviceKeyAndCode) {
  const House house;
  const DeviceLine line = some_line();
  const auto statement = enrol_statement(line.device_id, line.key, line.binding);
  EXPECT_TRUE(statement.starts_with("fairlead/enrol/v1\n"));
  EXPECT_EQ(statement.size(), 18u + 16 + 32 + 32);
  const Signature good = house.anna.sign(statement);
  EXPECT_TRUE(is_officer_signed(house.roster, "ozzlewick/officer-anna", statement, good));
  EXPECT_FALSE(is_officer_signed(house.roster, "ozzlewick/officer-bo", statement, good));
  EXPECT_FALSE(is_officer_signed(house.roster, "ozzlewick/officer-anna", statement,
                                 house.admin.sign(statement)));
  const auto other = enrol_statement(line.device_id, house.admin.public_key(), line.binding);
  EXPECT_FALSE(is_officer_signed(house.roster, "ozzlewick/officer-anna", other, good));
}

TEST(RosterRequest, IsSignedElsewhere) {
  House house;
  const auto request = read_roster_request(format_roster_request(house.roster));
  ASSERT_TRUE(request) << request.error().message;
  EXPECT_EQ(request->officers, house.roster.officers);
  EXPECT_TRUE(is_zero(request->root.key.bytes));
  Roster signed_roster = *request;
  signed_roster.root = house.roster.root;
  const auto note = sign_roster(signed_roster, house.root);
  ASSERT_TRUE(note) << note.error().message;
  EXPECT_EQ(open_roster(*note).value(), house.roster);
  EXPECT_EQ(read_roster_request(*note).value(), house.roster);
}

TEST(Succession, KeysAndIdsStayTogether) {
  const House house;
  Roster next = house.roster;
  next.officers.clear();
  EXPECT_TRUE(check_succession(house.roster, next));
  next.admins = {{random_array<16>(), named("ozzlewick/admin", SecretKey::generate())}};
  EXPECT_TRUE(check_succession(house.roster, next));
  next.admins = {{house.roster.admins[0].device_id, next.admins[0].key}};
  EXPECT_FALSE(check_succession(house.roster, next)) << "an old id with a new key";
  next.admins = {{random_array<16>(), house.roster.admins[0].key}};
  EXPECT_FALSE(check_succession(house.roster, next)) << "an old key with a new id";
  next = house.roster;
  next.root = named("ozzlewick/root", SecretKey::generate());
  EXPECT_FALSE(check_succession(house.roster, next)) << "another root";
  next = house.roster;
  next.log = named("ozzlewick/fairlead/g1", SecretKey::generate());
  EXPECT_FALSE(check_succession(house.roster, next)) << "another log";
}

}  // namespace
}  // namespace fairlead::record
