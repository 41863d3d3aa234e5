// Countersigning against what others published: the witness requests of the sunlight project's test
// (github.com/FiloSottile/sunlight internal/witness/witness_test.go) with the HTTP statuses of C2SP
// tlog-witness, and the 16 checkpoints of a whole small log (github.com/transparency-dev/tessera
// testdata/log).
#include <gtest/gtest.h>
#include <sys/stat.h>

#include "clients/verify/countersign_folder.h"
#include "tests/unit/record/merkle_tree.h"
#include "tests/unit/record/vectors.h"

namespace fairlead::verifier {
namespace {

constexpr uint64_t kNow_s = 1'800'000'000;

class Countersign : public testing::Test {
 protected:
  Countersign() {
    std::string name = (std::filesystem::temp_directory_path() / "countersign-XXXXXX").string();
    EXPECT_NE(mkdtemp(name.data()), nullptr);
    path_ = name;
  }
  ~Countersign() override { std::filesystem::remove_all(path_); }

  [[nodiscard]] CountersignFolder folder() const {
    auto made = CountersignFolder::make(path_, "example.com/witness");
    EXPECT_TRUE(made.has_value()) << made.error().message;
    return std::move(*made);
  }
  /// The answer, or the refusal's text, of a program started anew for this request.
  std::string answer(std::string_view request, uint64_t now_s = kNow_s) {
    const auto opened = folder();
    const auto said = countersign(opened, request, logs_, now_s);
    if (!said) return "error: " + said.error().message;
    if (const auto* line = std::get_if<std::string>(&*said)) return *line;
    return refusal_text(std::get<Refused>(*said));
  }

  std::filesystem::path path_;
  std::vector<record::VerifierKey> logs_;
};

record::VerifierKey vkey(const nlohmann::json& text) {
  const auto key = record::parse_verifier_key(text.get<std::string>());
  EXPECT_TRUE(key.has_value());
  return key.value_or(record::VerifierKey{});
}

TEST_F(Countersign, PublishedRequestsGetTheirStatuses) {
  const auto file = vectors::load("witness_add_checkpoint_sequence.json");
  ASSERT_TRUE(file.has_value()) << "without the published answers nothing is checked here";
  const auto& log = file->front();
  logs_ = {vkey(log.at("log_vkey"))};
  size_t seen = 0;
  for (const auto& one : log.at("cases")) {
    const std::string said = answer(one.at("request_body").get<std::string>());
    const int status = one.at("want_status").get<int>();
    const std::string name = one.at("name").get<std::string>();
    if (status == 200) {
      EXPECT_TRUE(said.starts_with("— example.com/witness ")) << name << ": " << said;
    } else {
      EXPECT_TRUE(said.starts_with("refused " + std::to_string(status) + " ")) << name << said;
    }
    EXPECT_NE(said.find(one.at("want_body_contains").get<std::string>()), std::string::npos)
        << name << ": " << said;
    ++seen;
  }
  EXPECT_EQ(seen, 11u);
  // The last request that was granted is what is remembered, through eleven starts of the program.
  const auto standing = folder().standing(log.at("origin").get<std::string>());
  ASSERT_TRUE(standing.has_value());
  EXPECT_EQ(standing->size, 5u);
  EXPECT_EQ(standing->at_s, kNow_s);
}

class SmallLog : public Countersign {
 protected:
  void SetUp() override {
    const auto file = vectors::load("tlog_small_complete_log.json");
    ASSERT_TRUE(file.has_value()) << "without the published answers nothing is checked here";
    const auto& log = file->front();
    logs_ = {vkey(log.at("vkey"))};
    for (const auto& entry : log.at("entries_ascii")) tree_.add(entry.get<std::string>());
    for (const auto& note : log.at("checkpoints_by_size_0_to_15")) notes_.push_back(note);
  }
  [[nodiscard]] std::string request(uint64_t from, uint64_t to) const {
    std::vector<Hash> proof;
    if (from > 0) proof = tree_.consistency(from, to);
    return record::format_add_checkpoint({from, proof, notes_.at(to)});
  }

  MemoryTree tree_;
  std::vector<std::string> notes_;
};

TEST_F(SmallLog, FollowsAPublishedLogAndKeepsEachHeadBeforeAnswering) {
  uint64_t stands = 0;
  for (const uint64_t size : {1, 2, 3, 5, 8, 8, 13, 15}) {
    const std::string line = answer(request(stands, size), kNow_s + size);
    const auto note = record::parse_note(notes_.at(size) + line);
    ASSERT_TRUE(note.has_value()) << line;
    const auto time_s = record::verify_cosignature(*note, folder().key());
    ASSERT_TRUE(time_s.has_value()) << time_s.error().message;
    EXPECT_EQ(*time_s, kNow_s + size);
    stands = size;
    const auto standing = folder().standing("example.com/log/testdata");
    ASSERT_TRUE(standing.has_value());
    EXPECT_EQ(*standing, (Standing{size, tree_.root(size), kNow_s + size}));
  }
  for (const auto& item : std::filesystem::directory_iterator(path_)) {
    if (item.path().extension() != ".cosigned") continue;
    EXPECT_LE(item.file_size(), 300u);
  }
}

TEST_F(SmallLog, RefusesWhatDoesNotExtend) {
  ASSERT_TRUE(answer(request(0, 8)).starts_with("—"));
  EXPECT_EQ(answer(request(0, 15)).substr(0, 12), "refused 409 ");
  EXPECT_TRUE(answer(request(0, 15)).ends_with("\n8\n"));  // Where to go on from.
  EXPECT_EQ(answer(request(5, 15)).substr(0, 12), "refused 409 ");
  // A smaller tree, whether it owns up to the old size or not.
  EXPECT_EQ(answer(record::format_add_checkpoint({8, {}, notes_[5]})).substr(0, 12),
            "refused 400 ");
  EXPECT_TRUE(answer(request(0, 5)).find("smaller tree") != std::string::npos);
  std::vector<Hash> proof = tree_.consistency(8, 15);
  proof.back()[0] ^= 1;
  EXPECT_EQ(answer(record::format_add_checkpoint({8, proof, notes_[15]})).substr(0, 12),
            "refused 422 ");
  EXPECT_EQ(answer(record::format_add_checkpoint({8, {}, notes_[15]})).substr(0, 12),
            "refused 422 ");
  EXPECT_TRUE(answer(request(8, 15)).starts_with("—"));
}

TEST_F(SmallLog, ProofFromNothingMustBeEmpty) {
  EXPECT_EQ(answer(record::format_add_checkpoint({0, {tree_.root(1)}, notes_[5]})).substr(0, 12),
            "refused 422 ");
  EXPECT_EQ(folder().standing("example.com/log/testdata")->size, 0u);
}

TEST_F(SmallLog, SameSizeWithAnotherRootIsRefused) {
  // The published log signs one root a size, so the folder is told of another one.
  ASSERT_TRUE(folder().keep("example.com/log/testdata", {5, tree_.root(6), kNow_s}).has_value());
  EXPECT_EQ(answer(record::format_add_checkpoint({5, {}, notes_[5]})).substr(0, 12),
            "refused 409 ");
}

TEST_F(SmallLog, UnknownLogAndTamperedTextAreRefused) {
  std::string forged = notes_[5];
  forged.replace(forged.find("\n5\n"), 3, "\n6\n");
  EXPECT_EQ(answer(record::format_add_checkpoint({0, {}, forged})).substr(0, 12), "refused 403 ");
  logs_.clear();
  EXPECT_EQ(answer(request(0, 5)).substr(0, 12), "refused 404 ");
  EXPECT_EQ(answer(std::string(5'000, 'a')).substr(0, 12), "refused 400 ");
  EXPECT_EQ(answer("old 05\n\n" + notes_[5]).substr(0, 12), "refused 400 ");
}

TEST_F(SmallLog, ADamagedMemoryIsNeverTakenForAnEmptyOne) {
  ASSERT_TRUE(answer(request(0, 8)).starts_with("—"));
  for (const auto& item : std::filesystem::directory_iterator(path_)) {
    if (item.path().extension() != ".cosigned") continue;
    ASSERT_TRUE(write_private_file(item.path(), "fairlead cosigned v1\n").has_value());
  }
  EXPECT_NE(answer(request(0, 8)).find("restore it"), std::string::npos);
}

TEST_F(SmallLog, AClockThatWentBackSignsNothing) {
  ASSERT_TRUE(answer(request(0, 5), kNow_s).starts_with("—"));
  EXPECT_NE(answer(request(5, 8), kNow_s - 1).find("clock"), std::string::npos);
  EXPECT_EQ(folder().standing("example.com/log/testdata")->size, 5u);
}

TEST_F(Countersign, TheKeyIsPrivateAndKeepsItsName) {
  const record::VerifierKey key = folder().key();
  EXPECT_EQ(key.type, record::NoteKeyType::kCosignature);
  struct stat info{};
  ASSERT_EQ(stat((path_ / "secret.key").c_str(), &info), 0);
  EXPECT_EQ(info.st_mode & 0777, 0600u);
  EXPECT_EQ(folder().key(), key);
  const auto other = CountersignFolder::make(path_, "example.com/other");
  ASSERT_FALSE(other.has_value());
  EXPECT_EQ(other.error().code, Code::kConflict);
  std::filesystem::remove(path_ / "secret.key");
  EXPECT_FALSE(CountersignFolder::open(path_).has_value());
}

}  // namespace
}  // namespace fairlead::verifier
