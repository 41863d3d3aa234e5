// Signed notes and checkpoints against the C2SP signed-note and tlog-checkpoint examples and whole
// published logs.
#include "daemon/record/note.h"

#include <gtest/gtest.h>

#include "daemon/record/checkpoint.h"
#include "tests/unit/record/merkle_tree.h"
#include "tests/unit/record/vectors.h"

namespace fairlead::record {
namespace {

// C2SP signed-note.md, section "Example".
constexpr char kExampleKey[] =
    "example.com/foo+530d903a+AekyeRrm56hApGFkyQR4ZCbV54Id2LKaANYcrnKv3U2k";
constexpr char kExampleNote[] =
    "This is an example message.\n\n— example.com/foo "
    "Uw2QOkn8srV1yJGh2VYRlL1Tnagv1YEq6TfXppzi2ONncAlTgK7Ztg1ERYNZXsYjOBH3mFXmRKuwHjG1Yu72IneyaQM="
    "\n";

VerifierKey key_of(std::string_view name, NoteKeyType type, const SecretKey& secret) {
  auto key = make_verifier_key(name, type, secret.public_key());
  EXPECT_TRUE(key.has_value());
  return key.value_or(VerifierKey{});
}

TEST(Note, PublishedExampleVerifies) {
  const auto key = parse_verifier_key(kExampleKey);
  ASSERT_TRUE(key.has_value()) << key.error().message;
  EXPECT_EQ(format_verifier_key(*key), kExampleKey);
  const auto note = parse_note(kExampleNote);
  ASSERT_TRUE(note.has_value()) << note.error().message;
  EXPECT_TRUE(verify_note(*note, *key));
  EXPECT_EQ(format_note(*note), kExampleNote);
}

TEST(Note, NoFlippedBitPasses) {
  const auto key = parse_verifier_key(kExampleKey);
  ASSERT_TRUE(key.has_value());
  std::string bytes = kExampleNote;
  for (size_t bit = 0; bit < bytes.size() * 8; ++bit) {
    bytes[bit / 8] = static_cast<char>(bytes[bit / 8] ^ (1 << (bit % 8)));
    const auto note = parse_note(bytes);
    EXPECT_FALSE(note && verify_note(*note, *key)) << bit;
    bytes[bit / 8] = static_cast<char>(bytes[bit / 8] ^ (1 << (bit % 8)));
  }
}

TEST(Note, MalformedIsRefused) {
  const std::string good = kExampleNote;
  const std::string line = good.substr(good.find("\n\n") + 2);
  const std::pair<const char*, std::string> cases[] = {
      {"empty", ""},
      {"no signature", "text\n\n"},
      {"no empty line", "text\n" + line},
      {"no last newline", good.substr(0, good.size() - 1)},
      {"text after signatures", good + "text\n"},
      {"control character", "te\txt\n\n" + line},
      {"carriage return", "text\r\n\n" + line},
      {"not UTF-8", "te\xff\n\n" + line},
      {"hyphen for dash", "text\n\n- example.com/foo AAAAAAAA\n"},
      {"two spaces", "text\n\n— example.com/foo  " + line.substr(20)},
      {"plus in name", "text\n\n— a+b " + line.substr(line.rfind(' ') + 1)},
      {"short signature", "text\n\n— a AAAAAA==\n"},
      {"base64 not canonical", good.substr(0, good.size() - 3) + "N=\n"},
      {"too large", std::string(1'000'000, 'x') + "\n\n" + line}};
  for (const auto& [what, bytes] : cases) {
    const auto note = parse_note(bytes);
    EXPECT_FALSE(note.has_value()) << what;
    if (note) continue;
    EXPECT_EQ(note.error().code, Code::kBadInput);
  }
  std::string many = "text\n\n";
  for (int i = 0; i < 16; ++i) many += line;
  EXPECT_TRUE(parse_note(many).has_value());
  EXPECT_FALSE(parse_note(many + line).has_value());
}

TEST(Note, OneBadSignatureOfAKnownKeyIsEnough) {
  const SecretKey secret = SecretKey::generate();
  const VerifierKey key = key_of("a", NoteKeyType::kEd25519, secret);
  const auto good = sign_note("one\n", key, secret);
  const auto other = note_signature_line("two\n", key, secret);
  ASSERT_TRUE(good && other);
  EXPECT_TRUE(verify_note(*parse_note(*good), key));
  EXPECT_FALSE(verify_note(*parse_note(*good + *other), key));
  // Another key's line is none of our business.
  const SecretKey stranger = SecretKey::generate();
  const auto line =
      note_signature_line("one\n", key_of("b", NoteKeyType::kEd25519, stranger), stranger);
  ASSERT_TRUE(line.has_value());
  EXPECT_TRUE(verify_note(*parse_note(*good + *line), key));
  EXPECT_FALSE(verify_note(*parse_note("one\n\n" + *line), key));
}

TEST(Note, WrongSecretOrTextCannotSign) {
  const SecretKey secret = SecretKey::generate(), other = SecretKey::generate();
  const VerifierKey key = key_of("a", NoteKeyType::kEd25519, secret);
  EXPECT_FALSE(sign_note("text\n", key, other).has_value());
  EXPECT_FALSE(sign_note("no newline", key, secret).has_value());
  EXPECT_FALSE(cosignature_line("text\n", key, secret, 1).has_value());
}

TEST(VerifierKey, NamesAndIdsAreChecked) {
  const PublicKey key = SecretKey::generate().public_key();
  for (const char* name : {"", "a b", "a+b", "a\nb", "a\xc2\xa0"}) {
    EXPECT_FALSE(make_verifier_key(name, NoteKeyType::kEd25519, key).has_value()) << name;
  }
  std::string text = kExampleKey;
  text[16] = '6';  // Key id 630d903a.
  EXPECT_FALSE(parse_verifier_key(text).has_value());
  for (const char* bad :
       {"", "a", "a+b", "a+00000000+", "a+0000000+AAAA", "+530d903a+AekyeRrm56hApGFk"}) {
    EXPECT_FALSE(parse_verifier_key(bad).has_value()) << bad;
  }
}

TEST(Cosignature, SignsTimeAndText) {
  const SecretKey secret = SecretKey::generate();
  const VerifierKey key = key_of("insurer.example", NoteKeyType::kCosignature, secret);
  const auto line = cosignature_line("text\n", key, secret, 1'700'000'000);
  ASSERT_TRUE(line.has_value());
  EXPECT_EQ(verify_cosignature(*parse_note("text\n\n" + *line), key).value_or(0), 1'700'000'000u);
  EXPECT_EQ(verify_cosignature(*parse_note("other\n\n" + *line), key).error().code, Code::kCorrupt);
  const auto plain = sign_note("text\n", key_of("a", NoteKeyType::kEd25519, secret), secret);
  EXPECT_EQ(verify_cosignature(*parse_note(*plain), key).error().code, Code::kNotFound);
}

TEST(Checkpoint, FormAndOrigin) {
  const SecretKey secret = SecretKey::generate();
  const std::string origin = origin_of("base.example", 2).value_or("");
  EXPECT_EQ(origin, "base.example/fairlead/g2");
  EXPECT_FALSE(origin_of("a b", 1).has_value());
  EXPECT_FALSE(origin_of("a", 0).has_value());
  const Checkpoint checkpoint{origin, 7, sha256("root")};
  const VerifierKey log = key_of(origin, NoteKeyType::kEd25519, secret);
  const auto note = sign_checkpoint(checkpoint, log, secret);
  ASSERT_TRUE(note.has_value());
  const auto opened = open_checkpoint(*parse_note(*note), log);
  ASSERT_TRUE(opened.has_value()) << opened.error().message;
  EXPECT_EQ(*opened, checkpoint);
  EXPECT_FALSE(sign_checkpoint(checkpoint, key_of("x", NoteKeyType::kEd25519, secret), secret));
  const std::string root = base64_of(view_of(sha256("root")));
  for (const std::string& bad :
       {"a\n01\n" + root + "\n", "a\n+1\n" + root + "\n", "a\n-1\n" + root + "\n",
        "a\n1\n" + root + "\nextension\n", "a\n1\n" + root, "\n1\n" + root + "\n",
        std::string("a\n1\nAAAA\n"), "a\n9223372036854775808\n" + root + "\n"}) {
    EXPECT_FALSE(parse_checkpoint(bad).has_value()) << bad;
  }
}

TEST(NoteVectors, ExamplesAndRefusedKeys) {
  const auto file = vectors::load("signed_notes.json");
  if (!file) return;
  int verified = 0, refused = 0;
  for (const auto& test : file->at(0)) {
    if (test.contains("vkeys")) {
      for (const auto& key : test["vkeys"]) {
        EXPECT_FALSE(parse_verifier_key(key.get<std::string>()).has_value()) << key;
        ++refused;
      }
    } else if (test.contains("vkey")) {
      const auto key = parse_verifier_key(test["vkey"].get<std::string>());
      const auto note = parse_note(test["note"].get<std::string>());
      ASSERT_TRUE(key && note);
      EXPECT_TRUE(verify_note(*note, *key));
      ++verified;
    } else {
      const auto note = parse_note(test["note"].get<std::string>());
      ASSERT_TRUE(note && note->signatures.size() == 2);
      const auto checkpoint = parse_checkpoint(note->text);
      ASSERT_TRUE(checkpoint.has_value());
      EXPECT_EQ(checkpoint->origin, test["origin"].get<std::string>());
      EXPECT_EQ(checkpoint->size, test["size"].get<uint64_t>());
      EXPECT_EQ(base64_of(view_of(checkpoint->root)), test["root_b64"].get<std::string>());
      const NoteSignature& cosignature = note->signatures[1];
      std::string id;
      append_be(id, cosignature.id);
      EXPECT_EQ(hex_of(id), test["cosig_key_id"].get<std::string>());
      const auto* raw = reinterpret_cast<const uint8_t*>(cosignature.bytes.data());
      EXPECT_EQ(get_be<uint64_t>(raw), test["cosig_timestamp"].get<uint64_t>());
    }
  }
  EXPECT_EQ(verified, 2);
  EXPECT_EQ(refused, 2);
}

TEST(NoteVectors, SmallCompleteLog) {
  const auto file = vectors::load("tlog_small_complete_log.json");
  if (!file) return;
  const auto& log = file->at(0);
  const auto key = parse_verifier_key(log["vkey"].get<std::string>());
  ASSERT_TRUE(key.has_value());
  MemoryTree tree;
  std::string tile;
  for (size_t size = 0; size <= 15; ++size) {
    if (size > 0) {
      tree.add(log["entries_ascii"][size - 1].get<std::string>());
      tile += view_of(tree.leaves().back());
    }
    const auto note = parse_note(log["checkpoints_by_size_0_to_15"][size].get<std::string>());
    ASSERT_TRUE(note.has_value()) << note.error().message;
    EXPECT_TRUE(verify_note(*note, *key)) << size;
    const auto checkpoint = parse_checkpoint(note->text);
    ASSERT_TRUE(checkpoint.has_value());
    EXPECT_EQ(checkpoint->size, size);
    EXPECT_EQ(checkpoint->root, tree.edge().root()) << size;
  }
  EXPECT_EQ(tile, vectors::from_hex(log["level0_tile_000.p_15_hex"]));
}

/// "old N\n", base64 hashes, an empty line, the checkpoint.
std::vector<std::string> lines_before_note(std::string_view body, std::string_view& note) {
  std::vector<std::string> out;
  while (!body.empty()) {
    const size_t end = body.find('\n');
    const std::string_view line = body.substr(0, end);
    body.remove_prefix(std::min(body.size(), end + 1));
    if (line.empty()) break;
    out.emplace_back(line);
  }
  note = body;
  return out;
}

// C2SP tlog-witness requests: our readers and checks come to the published outcome where these
// layers decide it (form 400, signature 403, consistency 422).
TEST(NoteVectors, WitnessSequence) {
  const auto file = vectors::load("witness_add_checkpoint_sequence.json");
  if (!file) return;
  const auto key = parse_verifier_key(file->at(0)["log_vkey"].get<std::string>());
  ASSERT_TRUE(key.has_value());
  std::map<uint64_t, Hash> roots;
  int decided = 0;
  for (const auto& test : file->at(0)["cases"]) {
    const std::string body = test["request_body"];
    const int want = test["want_status"];
    std::string_view note_bytes;
    const auto lines = lines_before_note(body, note_bytes);
    const auto note = parse_note(note_bytes);
    const auto checkpoint =
        note ? parse_checkpoint(note->text) : Result<Checkpoint>(fail(Code::kBadInput, ""));
    if (want == 400) {
      EXPECT_FALSE(checkpoint.has_value()) << test["name"];
      ++decided;
      continue;
    }
    if (want == 403) {
      // Its last base64 character has unused bits set, so it falls at the form here.
      EXPECT_FALSE(note && verify_note(*note, *key)) << test["name"];
      ++decided;
      continue;
    }
    ASSERT_TRUE(checkpoint.has_value()) << test["name"] << checkpoint.error().message;
    if (want == 404 || want == 409) continue;  // Decided by the witness's own state.
    EXPECT_TRUE(verify_note(*note, *key)) << test["name"];
    ++decided;
    const uint64_t old = std::stoull(lines.at(0).substr(4));
    if (old == 0) {
      roots[checkpoint->size] = checkpoint->root;
      continue;
    }
    std::vector<std::string> raw;
    for (size_t i = 1; i < lines.size(); ++i) raw.push_back(*bytes_of_base64(lines[i], "hash"));
    const auto proof = proof_of_bytes(raw);
    ASSERT_TRUE(proof.has_value());
    EXPECT_EQ(verify_consistency(old, roots.at(old), checkpoint->size, checkpoint->root, *proof),
              want == 200)
        << test["name"];
    if (want == 200) roots[checkpoint->size] = checkpoint->root;
  }
  EXPECT_EQ(decided, 8);
}

}  // namespace
}  // namespace fairlead::record
