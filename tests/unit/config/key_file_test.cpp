// Private files: mode, permanence, refusal of keys that others can read. No outside source.
#include "daemon/base/key_file.h"

#include <gtest/gtest.h>
#include <sys/stat.h>

#include <fstream>

namespace fairlead {
namespace {

class KeyFile : public ::testing::Test {
 protected:
  void SetUp() override {
    folder_ = std::filesystem::temp_directory_path() / ("key_file_" + hex_of(random_array<8>()));
    std::filesystem::create_directories(folder_);
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }
  std::filesystem::path folder_;
};

TEST_F(KeyFile, IsMadeOnceWithModeSixHundred) {
  const auto first = load_or_make_key(folder_ / "device.key");
  ASSERT_TRUE(first) << first.error().message;
  struct stat info{};
  ASSERT_EQ(::stat((folder_ / "device.key").c_str(), &info), 0);
  EXPECT_EQ(info.st_mode & 0777, 0600U);
  const auto again = load_or_make_key(folder_ / "device.key");
  ASSERT_TRUE(again);
  EXPECT_EQ(again->public_key(), first->public_key());
}

TEST_F(KeyFile, ThatOthersCanReadIsRefused) {
  ASSERT_TRUE(load_or_make_key(folder_ / "k"));
  std::filesystem::permissions(folder_ / "k", std::filesystem::perms::group_read,
                               std::filesystem::perm_options::add);
  const auto key = load_or_make_key(folder_ / "k");
  ASSERT_FALSE(key);
  EXPECT_EQ(key.error().code, Code::kDenied);
  EXPECT_NE(key.error().message.find("chmod 600"), std::string::npos);
}

TEST_F(KeyFile, RubbishIsRefusedAndKept) {
  ASSERT_TRUE(write_private_file(folder_ / "k", "not a key\n"));
  const auto key = load_or_make_key(folder_ / "k");
  ASSERT_FALSE(key);
  EXPECT_EQ(key.error().code, Code::kBadInput);
  EXPECT_EQ(read_small_file(folder_ / "k", 100).value(), "not a key\n");
}

TEST_F(KeyFile, LongFilesAndMissingOnesAreSaid) {
  ASSERT_TRUE(write_private_file(folder_ / "f", "0123456789"));
  EXPECT_EQ(read_small_file(folder_ / "f", 10).value(), "0123456789");
  EXPECT_EQ(read_small_file(folder_ / "f", 9).error().code, Code::kBadInput);
  EXPECT_EQ(read_small_file(folder_ / "none", 9).error().code, Code::kNotFound);
}

TEST_F(KeyFile, OneDaemonAFolder) {
  {
    const auto lock = FolderLock::take(folder_ / "data");
    ASSERT_TRUE(lock);
    const auto second = FolderLock::take(folder_ / "data");
    ASSERT_FALSE(second);
    EXPECT_EQ(second.error().code, Code::kConflict);
  }
  EXPECT_TRUE(FolderLock::take(folder_ / "data"));
}

}  // namespace
}  // namespace fairlead
