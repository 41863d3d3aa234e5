// The offline verifier on an honest base's bundle and on what a dishonest one could make of it.
#include <gtest/gtest.h>

#include <functional>
#include <random>

#include "clients/verify/steps.h"
#include "tests/unit/verify/small_job.h"

namespace fairlead::verifier {
namespace {

int exit_of(const Verdicts& verdicts) { return static_cast<int>(verdicts.exit()); }

bool says(const Verdicts& verdicts, int step, const std::string& words) {
  for (const Verdict& verdict : verdicts.list()) {
    if (verdict.step == step && verdict.words.find(words) != std::string::npos) return true;
  }
  return false;
}

TEST(Check, AGoodBundleWithoutCountersignerIsProvenWithNotes) {
  SmallJob job;
  job.run(false);
  const auto verdicts = check_bundle(job.base.seal(job.bundle()), job.base.policy(false));
  EXPECT_EQ(exit_of(verdicts), 1) << to_text(verdicts);
  EXPECT_TRUE(says(verdicts, 2, "not yet countersigned"));
  EXPECT_TRUE(says(verdicts, 12, "2 findings come out the same")) << to_text(verdicts);
  const std::string text = to_text(verdicts);
  EXPECT_NE(
      text.find("checked: the attached record. Not checked: the words on these pages; compare "
                "them with this list"),
      std::string::npos);
}

TEST(Check, ACountersignedBundleIsProven) {
  SmallJob job;
  job.run(true);
  const auto verdicts = check_bundle(job.base.seal(job.bundle()), job.base.policy(true));
  EXPECT_EQ(exit_of(verdicts), 0) << to_text(verdicts);
  // First head over 3 leaves, cosigned 3 s after 10:00; the last one over all leaves.
  EXPECT_TRUE(says(verdicts, 10, "job opened: not before 2026-03-02T10:00:03.000000Z"))
      << to_text(verdicts);
}

TEST(Check, WhatTheDeviceHadNotSeenProvesNoTime) {
  SmallJob job;
  job.base.sign_head(true);
  job.base.seen_size = job.base.leaves.size();  // The cosigned head, but no HEAD_COSIGNED entry.
  job.open();
  job.work();
  job.close();
  job.judge();
  job.base.sign_head(true);
  const auto verdicts = check_bundle(job.base.seal(job.bundle()), job.base.policy(true));
  EXPECT_EQ(exit_of(verdicts), 0) << to_text(verdicts);
  EXPECT_TRUE(says(verdicts, 10, "job opened: not before unknown, not after 2026-03-02T10:00:"))
      << to_text(verdicts);
}

TEST(Check, LaterEntriesOfTheBaseLeaveTheJobCountersignedThoseOfATruckDoNot) {
  SmallJob job;
  job.run(true);
  v1::ClaimBody claim;
  claim.set_claim_id("C-0001");
  job.base.write(job.base.admin, record::Kind::kClaim, claim.SerializeAsString(), job.id);
  job.base.sign_head(false);
  auto verdicts = check_bundle(job.base.seal(job.bundle()), job.base.policy(true));
  EXPECT_EQ(exit_of(verdicts), 0) << to_text(verdicts);
  EXPECT_TRUE(says(verdicts, 2, "1 entries of the base itself")) << to_text(verdicts);
  v1::StopBody stop;
  job.base.write(job.truck, record::Kind::kStop, stop.SerializeAsString());
  job.base.sign_head(false);
  verdicts = check_bundle(job.base.seal(job.bundle()), job.base.policy(true));
  EXPECT_EQ(exit_of(verdicts), 1) << to_text(verdicts);
  EXPECT_TRUE(says(verdicts, 2, "1 entries are newer than the countersigned")) << to_text(verdicts);
}

TEST(Check, AnOpenJobIsProvenWithNotes) {
  SmallJob job;
  job.open();
  job.work();
  job.base.sign_head(true);
  const auto verdicts = check_bundle(job.base.seal(job.bundle()), job.base.policy(true));
  EXPECT_EQ(exit_of(verdicts), 1) << to_text(verdicts);
  EXPECT_TRUE(says(verdicts, 6, "still open"));
}

TEST(Check, AnImportedJobIsCalledSo) {
  SmallJob job(v1::EnrolBody::IMPORT);
  job.run(true);
  const auto verdicts = check_bundle(job.base.seal(job.bundle()), job.base.policy(true));
  EXPECT_EQ(exit_of(verdicts), 1) << to_text(verdicts);
  EXPECT_TRUE(says(verdicts, 9, "fed in from a file"));
}

TEST(Check, AnErasedNoteIsShownWithItsPolicy) {
  SmallJob job;
  job.open();
  job.work();
  job.close();
  v1::EraseBody erase;
  erase.add_leaf(job.note_leaf);
  erase.set_policy("request of the person");
  job.base.write(job.base.admin, record::Kind::kErase, erase.SerializeAsString());
  job.base.sign_head(true);
  auto bundle = job.bundle();
  bundle.entries[job.note_leaf].form = record::BodyForm::kErased;
  const auto verdicts = check_bundle(job.base.seal(bundle), job.base.policy(true));
  EXPECT_EQ(exit_of(verdicts), 1) << to_text(verdicts);
  EXPECT_TRUE(
      says(verdicts, 9, "1 bodies shown here were erased under \"request of the person\" at leaf"));
  EXPECT_TRUE(says(verdicts, 12, "not judged again"));
}

/// A change a dishonest base makes to an honest bundle, re-sealed with the base's own key.
struct Attack {
  const char* name;
  int step;
  int exit;
  std::function<void(SmallJob&, record::Bundle&)> change;
};

std::string& keep(std::string text) {
  static std::deque<std::string> kept;
  return kept.emplace_back(std::move(text));
}

/// Signs the truck's entry again with another key, chain and all else equal.
void sign_again(record::BundleEntry& entry, const SecretKey& key) {
  entry.entry = record::sign_entry(record::decode_header(entry.entry).value(), key);
}

const Attack kAttacks[] = {
    {"edited body", 7, 2,
     [](SmallJob& job, record::Bundle& b) {
       b.entries[job.note_leaf].body = keep(std::string(b.entries[job.note_leaf].body) + " ");
     }},
    {"body of the same length", 7, 2,
     [](SmallJob& job, record::Bundle& b) {
       std::string body(b.entries[job.note_leaf].body);
       body.back() = static_cast<char>(body.back() ^ 1);
       b.entries[job.note_leaf].body = keep(body);
     }},
    {"other salt", 7, 2,
     [](SmallJob& job, record::Bundle& b) { b.entries[job.note_leaf].salt[0] ^= 1; }},
    {"dropped entry", 5, 2,
     [](SmallJob& job, record::Bundle& b) {
       b.entries.erase(b.entries.begin() + static_cast<long>(job.note_leaf));
     }},
    {"dropped strip", 5, 2,
     [](SmallJob& job, record::Bundle& b) {
       b.entries.erase(b.entries.begin() + static_cast<long>(job.strip_leaf));
     }},
    {"dropped opening", 6, 2,
     [](SmallJob& job, record::Bundle& b) {
       b.entries.erase(b.entries.begin() + static_cast<long>(job.open_leaf - 1),
                       b.entries.begin() + static_cast<long>(job.open_leaf + 1));
     }},
    {"dropped enrolment", 4, 4,
     [](SmallJob& job, record::Bundle& b) {
       b.entries.erase(b.entries.begin() + static_cast<long>(job.enrol_leaf));
     }},
    {"officer's first entry dropped", 5, 2,
     [](SmallJob&, record::Bundle& b) { b.entries.erase(b.entries.begin()); }},
    {"withheld body", 6, 2,
     [](SmallJob& job, record::Bundle& b) {
       b.entries[job.note_leaf].form = record::BodyForm::kBare;
     }},
    {"withheld strip", 6, 2,
     [](SmallJob& job, record::Bundle& b) {
       b.entries[job.strip_leaf].form = record::BodyForm::kBare;
     }},
    {"erased without an ERASE entry", 7, 2,
     [](SmallJob& job, record::Bundle& b) {
       b.entries[job.note_leaf].form = record::BodyForm::kErased;
     }},
    {"signed by a stranger", 4, 2,
     [](SmallJob& job, record::Bundle& b) {
       sign_again(b.entries[job.note_leaf], SecretKey::generate());
     }},
    {"signed by the officer", 4, 2,
     [](SmallJob& job, record::Bundle& b) {
       sign_again(b.entries[job.note_leaf], job.base.admin.key);
     }},
    {"arrival time moved", 3, 2,
     [](SmallJob& job, record::Bundle& b) { b.entries[job.note_leaf].recv_us += 1; }},
    {"leaf index moved", 3, 2, [](SmallJob&, record::Bundle& b) { b.entries.back().leaf += 1; }},
    {"path altered", 3, 2,
     [](SmallJob& job, record::Bundle& b) { b.entries[job.note_leaf].path[0][0] ^= 1; }},
    {"consistency proof dropped", 8, 2,
     [](SmallJob&, record::Bundle& b) { b.consistency.clear(); }},
    {"consistency proof altered", 8, 2,
     [](SmallJob&, record::Bundle& b) { b.consistency[0].proof[0][5] ^= 4; }},
    {"file swapped", 11, 2,
     [](SmallJob&, record::Bundle& b) { b.files[0].bytes = "id: \"short\""; }},
    {"file dropped", 11, 2, [](SmallJob&, record::Bundle& b) { b.files.clear(); }},
    {"attachment altered", 11, 2,
     [](SmallJob&, record::Bundle& b) { b.attachments[0].bytes.remove_suffix(1); }},
    {"attachment nobody names", 11, 2,
     [](SmallJob&, record::Bundle& b) { b.attachments[0] = {sha256("x"), "x"}; }},
    {"older head shown as the last", 3, 2,
     [](SmallJob&, record::Bundle& b) { b.heads.pop_back(); }},
    {"another roster", 0, 4,
     [](SmallJob&, record::Bundle& b) { b.roster = keep(SmallBase().roster); }},
    {"head by another log", 2, 4,
     [](SmallJob&, record::Bundle& b) {
       SmallBase stranger;
       stranger.sign_head(false);
       b.heads.back() = keep(stranger.heads()[0]);
     }},
    {"head with a stranger's line", 2, 3,
     [](SmallJob&, record::Bundle& b) {
       const SecretKey key = SecretKey::generate();
       const auto name =
           record::make_verifier_key("x", record::NoteKeyType::kEd25519, key.public_key());
       const std::string head(b.heads.back());
       const auto note = record::parse_note(head);
       b.heads.back() = keep(head + record::note_signature_line(note->text, *name, key).value());
     }},
};

TEST(Check, EveryAttackOfADishonestBaseIsFound) {
  for (const Attack& attack : kAttacks) {
    SmallJob job;
    job.run(true);
    record::Bundle bundle = job.bundle();
    attack.change(job, bundle);
    const auto verdicts = check_bundle(job.base.seal(bundle), job.base.policy(true));
    EXPECT_EQ(exit_of(verdicts), attack.exit) << attack.name << "\n" << to_text(verdicts);
    EXPECT_TRUE(verdicts.failed(attack.step)) << attack.name << "\n" << to_text(verdicts);
  }
}

// The entry of one job's history put into another's: everything about it is genuine but its place.
TEST(Check, SplicedEntryOfAnotherLogIsFound) {
  SmallJob job, donor;
  job.run(true);
  donor.run(true);
  record::Bundle bundle = job.bundle();
  const record::Bundle other = donor.bundle();
  bundle.entries[job.note_leaf] = other.entries[donor.note_leaf];
  const auto verdicts = check_bundle(job.base.seal(bundle), job.base.policy(true));
  EXPECT_EQ(exit_of(verdicts), 2) << to_text(verdicts);
  EXPECT_TRUE(verdicts.failed(3));
}

TEST(Check, FindingTheRulesDoNotGiveIsFound) {
  SmallJob job;
  job.open();
  job.work();
  job.close();
  job.judge();
  v1::FindingBody body;
  ASSERT_TRUE(body.ParseFromString(job.base.leaves[job.finding_leaf].body));
  std::string line = body.line();
  const size_t at = line.find("deviated");
  ASSERT_NE(at, std::string::npos) << line;
  body.set_line(line.replace(at, 8, "met"));
  body.set_revision(2);
  job.base.write(job.base.service, record::Kind::kFinding, body.SerializeAsString(), job.id);
  job.base.sign_head(true);
  const auto verdicts = check_bundle(job.base.seal(job.bundle()), job.base.policy(true));
  EXPECT_EQ(exit_of(verdicts), 2) << to_text(verdicts);
  EXPECT_TRUE(verdicts.failed(12));
}

TEST(Check, EntriesUnderARevokedKeyAreQuarantined) {
  SmallJob job;
  job.open();
  job.work();
  v1::RevokeBody revoke;
  revoke.set_device_id(string_of(job.truck.id));
  revoke.set_last_epoch(1);
  revoke.set_last_seq(job.truck.seq - 2);
  job.base.write(job.base.admin, record::Kind::kRevoke, revoke.SerializeAsString());
  job.close();
  job.base.sign_head(true);
  const auto verdicts = check_bundle(job.base.seal(job.bundle()), job.base.policy(true));
  EXPECT_EQ(exit_of(verdicts), 1) << to_text(verdicts);
  EXPECT_TRUE(says(verdicts, 9, "revoked key")) << to_text(verdicts);
}

/// A ROTATE entry to a new key; with `honest` false the old key has not signed.
void rotate(SmallJob& job, bool honest) {
  SecretKey next = SecretKey::generate();
  const std::string old_key = string_of(job.truck.key.public_key().bytes);
  const std::string new_key = string_of(next.public_key().bytes);
  const std::string message = "fairlead/rotate/v1\n" + string_of(job.truck.id) + old_key + new_key;
  v1::RotateBody body;
  body.set_device_id(string_of(job.truck.id));
  body.set_old_public_key(old_key);
  body.set_new_public_key(new_key);
  body.set_old_signature(string_of((honest ? job.truck.key : next).sign(message).bytes));
  body.set_new_signature(string_of(next.sign(message).bytes));
  job.base.write(job.base.admin, record::Kind::kRotate, body.SerializeAsString());
  job.truck.key = std::move(next);
}

TEST(Check, ARotatedKeyHoldsFromItsLeafOn) {
  for (const bool honest : {true, false}) {
    SmallJob job;
    job.open();
    job.work();
    rotate(job, honest);
    job.close();
    job.judge();
    job.base.sign_head(true);
    const auto verdicts = check_bundle(job.base.seal(job.bundle()), job.base.policy(true));
    EXPECT_EQ(exit_of(verdicts), honest ? 0 : 2) << to_text(verdicts);
    EXPECT_EQ(verdicts.failed(4), !honest);
  }
}

TEST(Check, ANewEpochIsRootedInItsRestoreEntry) {
  for (const bool honest : {true, false}) {
    SmallJob job;
    v1::RestoreBody body;
    body.set_device_id(string_of(job.truck.id));
    body.set_new_epoch(2);
    const uint64_t leaf =
        job.base.write(job.base.admin, record::Kind::kRestore, body.SerializeAsString());
    job.truck.epoch = 2;
    job.truck.seq = 0;
    job.truck.prev = record::genesis_of(job.base.tree().leaves()[honest ? leaf : 0]);
    job.run(true);
    const auto verdicts = check_bundle(job.base.seal(job.bundle()), job.base.policy(true));
    EXPECT_EQ(exit_of(verdicts), honest ? 1 : 2) << to_text(verdicts);
    EXPECT_EQ(verdicts.failed(5), !honest);
  }
}

TEST(Check, AForgedCountersignatureIsFound) {
  SmallJob job;
  job.run(false);
  record::Bundle bundle = job.bundle();
  const SecretKey forger = SecretKey::generate();
  record::VerifierKey key = job.base.countersigner;
  key.key = forger.public_key();
  const auto note = record::parse_note(bundle.heads.back());
  bundle.heads.back() = keep(std::string(bundle.heads.back()) +
                             record::cosignature_line(note->text, key, forger, 1).value());
  const auto verdicts = check_bundle(job.base.seal(bundle), job.base.policy(true));
  EXPECT_EQ(exit_of(verdicts), 2) << to_text(verdicts);
  EXPECT_TRUE(verdicts.failed(2));
}

TEST(Check, AnotherBasesPolicyDoesNotDecide) {
  SmallJob job;
  job.run(true);
  EXPECT_EQ(exit_of(check_bundle(job.base.seal(job.bundle()), SmallBase().policy(true))), 4);
}

std::string sample_bundle(SmallJob& job, bool cosign) {
  job.run(cosign);
  std::string bytes = job.base.seal(job.bundle());
  EXPECT_GE(bytes.size(), 12'000u);
  return bytes;
}

TEST(Tampering, SampledBitsOfAnUntouchedSealAreNeverAccepted) {
  SmallJob job;
  std::string bytes = sample_bundle(job, true);
  const Policy policy = job.base.policy(true);
  ASSERT_EQ(exit_of(check_bundle(bytes, policy)), 0);
  std::mt19937_64 random(20260302);
  const bool all = std::getenv("FAIRLEAD_LONG") != nullptr;
  const size_t count = all ? bytes.size() * 8 : 5'000;
  for (size_t i = 0; i < count; ++i) {
    const size_t bit = all ? i : random() % (bytes.size() * 8);
    bytes[bit / 8] = static_cast<char>(bytes[bit / 8] ^ (1 << (bit % 8)));
    ASSERT_GE(exit_of(check_bundle(bytes, policy)), 2) << "bit " << bit;
    bytes[bit / 8] = static_cast<char>(bytes[bit / 8] ^ (1 << (bit % 8)));
  }
}

/// Puts a fresh seal by the base's own key on bytes that were changed before the SEAL section.
std::string seal_again(const SmallBase& base, std::string_view sealed_part) {
  const auto note =
      record::sign_note(record::seal_text(base.origin(), sealed_part), base.log, base.log_key);
  std::string out(sealed_part);
  out += '\x09';
  append_be(out, static_cast<uint64_t>(note->size()));
  return out + *note;
}

TEST(Tampering, SampledBitsUnderAFreshSealAreNeverAccepted) {
  SmallJob job;
  const std::string bytes = sample_bundle(job, true);
  const Policy policy = job.base.policy(true);
  std::string part(record::read_bundle(bytes)->sealed_part);
  ASSERT_EQ(exit_of(check_bundle(seal_again(job.base, part), policy)), 0);
  std::mt19937_64 random(20260303);
  const bool all = std::getenv("FAIRLEAD_LONG") != nullptr;
  const size_t count = all ? part.size() * 8 : 5'000;
  for (size_t i = 0; i < count; ++i) {
    const size_t bit = all ? i : random() % (part.size() * 8);
    part[bit / 8] = static_cast<char>(part[bit / 8] ^ (1 << (bit % 8)));
    const auto verdicts = check_bundle(seal_again(job.base, part), policy);
    ASSERT_GE(exit_of(verdicts), 2) << "bit " << bit << "\n" << to_text(verdicts);
    part[bit / 8] = static_cast<char>(part[bit / 8] ^ (1 << (bit % 8)));
  }
}

TEST(Tampering, EveryTruncationIsMalformed) {
  SmallJob job;
  const std::string bytes = sample_bundle(job, true);
  const Policy policy = job.base.policy(true);
  for (size_t size = 0; size < bytes.size(); ++size) {
    ASSERT_EQ(exit_of(check_bundle(std::string_view(bytes).substr(0, size), policy)), 3) << size;
  }
}

}  // namespace
}  // namespace fairlead::verifier
