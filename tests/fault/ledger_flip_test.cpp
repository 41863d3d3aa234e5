// The record's promise G1 on disk: one bit of a 256-entry ledger is turned over, anywhere in the
// database, its write-ahead log, an attachment or the head file. Either opening or auditing says
// so, or every byte that the ledger gives out is what it was. 500 flips; FAIRLEAD_FLIPS=100000 is
// the long form.
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <map>
#include <random>

#include "tests/unit/ledger/ledger_world.h"

namespace fairlead::ledger {
namespace {

namespace fs = std::filesystem;

std::string content_of(const fs::path& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

void put_content(const fs::path& file, const std::string& bytes) {
  fs::create_directories(file.parent_path());
  std::ofstream(file, std::ios::binary) << bytes;
}

// Everything a reader can get out, as one string; nullopt when something says it is damaged.
std::optional<std::string> exported(const Ledger& ledger, const std::vector<Hash>& attachments) {
  const auto report = ledger.audit();
  if (!report || !report->problems.empty()) return std::nullopt;
  const auto entries = ledger.entries(0, 1U << 20, true);
  if (!entries) return std::nullopt;
  std::string out = ledger.head() ? ledger.head()->note : "";
  for (const auto& entry : *entries) {
    append_be(out, entry.leaf);
    append_be(out, static_cast<uint64_t>(entry.recv_us));
    out += string_of(entry.entry) + string_of(entry.salt) + entry.body;
  }
  for (const auto& hash : attachments) {
    const auto bytes = ledger.attachment(hash);
    if (!bytes) return std::nullopt;
    out += *bytes;
  }
  return out;
}

// The files of a ledger as they lie on disk, by their path below the folder.
using Image = std::map<fs::path, std::string>;

Image image_of(const fs::path& folder) {
  Image image;
  for (const auto& file : fs::recursive_directory_iterator(folder)) {
    const bool shared_memory = file.path().string().ends_with("-shm");  // Rebuilt from the log.
    if (file.is_regular_file() && !shared_memory && fs::file_size(file.path()) > 0) {
      image[fs::relative(file.path(), folder)] = content_of(file.path());
    }
  }
  return image;
}

struct Sample {
  Image closed, open;  // Log copied in; log still beside the database.
  std::string whole;
  std::vector<Hash> attachments;
};

Sample make_sample() {
  Sample sample;
  const TestFolder folder;
  const auto options = base_options(folder.path());
  {
    const auto ledger = open_or_fail(options);
    (void)enrol(*ledger, 1);
    TestTruck truck(1, *ledger->watermark(id_of(1)));
    while (ledger->size() < 256) {
      const auto n = static_cast<uint8_t>(ledger->size());
      const Kind kind = n % 50 == 10 ? Kind::kJobOpen
                        : n % 3 == 0 ? Kind::kStrip
                                     : Kind::kObservations;
      const Id16 job = n % 50 == 10 ? id_of(n) : Id16{};
      (void)append_one(*ledger,
                       truck.next(kind, job, std::string(n % 90, 'a') + std::to_string(n)));
    }
    for (const char* photo : {"first photo", "second photo"}) {
      sample.attachments.push_back(*ledger->put_attachment(photo));
    }
    EXPECT_TRUE(ledger->sign_head());
    sample.whole = exported(*ledger, sample.attachments).value_or("damaged from the start");
    sample.open = image_of(folder.path());
  }
  sample.closed = image_of(folder.path());
  return sample;
}

TEST(LedgerFlip, AFlippedBitIsFoundOrChangesNothingThatIsGivenOut) {
  const char* asked = std::getenv("FAIRLEAD_FLIPS");
  const int flips = asked == nullptr ? 500 : std::atoi(asked);
  ASSERT_GE(flips, 1) << "FAIRLEAD_FLIPS: give a number of flips";
  const Sample sample = make_sample();
  ASSERT_GT(sample.whole.size(), 256U * 288U);
  ASSERT_TRUE(std::ranges::any_of(
      sample.open, [](const auto& file) { return file.first.string().ends_with("-wal"); }));
  std::mt19937 random(20260302);
  int found = 0, harmless = 0;
  for (int flip = 0; flip < flips; ++flip) {
    if (flip > 0 && flip % 500 == 0) {
      std::printf("%d of %d flips\n", flip, flips);
      std::fflush(stdout);
    }
    const TestFolder folder;
    Image image = flip % 2 == 0 ? sample.closed : sample.open;
    // Each file gets its turn, however small; the place inside is random.
    auto file = image.begin();
    std::advance(file, static_cast<std::ptrdiff_t>(random() % image.size()));
    if (random() % 2 == 0) file = image.find("ledger/ledger.db");
    const size_t at = random() % file->second.size();
    const auto bit = static_cast<uint8_t>(1U << (random() % 8));
    file->second[at] = static_cast<char>(static_cast<uint8_t>(file->second[at]) ^ bit);
    for (const auto& [path, bytes] : image) put_content(folder.path() / path, bytes);
    const auto ledger = open_sqlite(base_options(folder.path()));
    const auto out = ledger ? exported(**ledger, sample.attachments) : std::nullopt;
    if (!out) {
      ++found;
      continue;
    }
    ++harmless;
    ASSERT_EQ(sample.whole, *out) << "flip " << flip << " in " << file->first << " at " << at;
  }
  EXPECT_GT(found, flips / 3);
  std::printf("%d flips: %d found, %d in bytes that carry nothing\n", flips, found, harmless);
}

TEST(LedgerFlip, WithoutAFlipTheCopiesAreWhole) {
  const Sample sample = make_sample();
  for (const Image* image : {&sample.closed, &sample.open}) {
    const TestFolder folder;
    for (const auto& [path, bytes] : *image) put_content(folder.path() / path, bytes);
    const auto ledger = open_or_fail(base_options(folder.path()));
    ASSERT_NE(nullptr, ledger);
    EXPECT_EQ(sample.whole, exported(*ledger, sample.attachments));
  }
}

}  // namespace
}  // namespace fairlead::ledger
