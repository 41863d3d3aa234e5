// What the C host loads and what it refuses, against the rules in fairlead_driver.h. The drivers
// are real shared objects built from bad_driver.c.
#include "plugins/host/driver.h"

#include <gtest/gtest.h>
#include <sys/stat.h>

#include <cstddef>
#include <cstdlib>
#include <fstream>

namespace fairlead::host {
namespace {

// Version 1.0 of the border, on machines with 64-bit pointers: where drivers that are out there
// look.
static_assert(sizeof(void*) != 8 ||
              (offsetof(fairlead_driver, name) == 8 && offsetof(fairlead_driver, configure) == 24 &&
               offsetof(fairlead_driver, describe) == 32 && offsetof(fairlead_driver, open) == 40 &&
               offsetof(fairlead_driver, read) == 48 && offsetof(fairlead_driver, close) == 56 &&
               offsetof(fairlead_driver, trouble) == 64));
static_assert(sizeof(void*) != 8 ||
              (offsetof(fairlead_reading, channel) == 4 && offsetof(fairlead_reading, kind) == 8 &&
               offsetof(fairlead_reading, quality) == 12 &&
               offsetof(fairlead_reading, value) == 16 && offsetof(fairlead_reading, words) == 24));
static_assert(sizeof(void*) != 8 ||
              (offsetof(fairlead_channel, source) == 8 && offsetof(fairlead_channel, unit) == 24 &&
               offsetof(fairlead_channel, range_lo) == 32 &&
               offsetof(fairlead_channel, rate_hz) == 56));

class DriverTest : public testing::Test {
 protected:
  DriverTest() {
    std::string name = (std::filesystem::temp_directory_path() / "driver-XXXXXX").string();
    folder_ = mkdtemp(name.data());
    setenv("FAIRLEAD_DRIVER_MARK", mark().c_str(), 1);
  }
  ~DriverTest() override {
    unsetenv("FAIRLEAD_DRIVER_MARK");
    std::error_code ignored;
    std::filesystem::remove_all(folder_, ignored);
  }
  [[nodiscard]] std::filesystem::path mark() const { return folder_ / "loaded"; }
  // A copy of the driver with a manifest of its own.
  std::filesystem::path install(const std::string& word, const std::string& manifest) {
    std::filesystem::path file = folder_ / (word + ".so");
    std::filesystem::copy_file(std::string(FAIRLEAD_BAD_DRIVERS) + "/bad_" + word + ".so", file);
    if (!manifest.empty()) std::ofstream(folder_ / (word + ".toml")) << manifest;
    return file;
  }
  static std::string refusal(const std::filesystem::path& file) {
    auto driver = Driver::load(file);
    return driver ? "" : driver.error().message;
  }
  std::filesystem::path folder_;
};

TEST_F(DriverTest, ALaterMinorVersionWithMoreAtTheEndIsTaken) {
  auto driver = Driver::load(install("LONGER", "driver_abi = 1\n"));
  ASSERT_TRUE(driver) << driver.error().message;
  std::vector<v1::PluginChannel> channels;
  EXPECT_TRUE(driver->configure({{"device", "x"}}, channels).empty());
  EXPECT_TRUE(driver->open());
  fairlead_reading reading{};
  EXPECT_EQ(driver->read(reading, 0), FAIRLEAD_NOTHING);
  EXPECT_EQ(reading.struct_size, sizeof(fairlead_reading));
  EXPECT_EQ(driver->trouble(), "none");
  EXPECT_TRUE(std::filesystem::exists(mark())) << "the mark works";
}

TEST_F(DriverTest, OtherVersionsAndBrokenTablesAreRefused) {
  std::string good = "driver_abi = 1\n";
  EXPECT_NE(refusal(install("WRONG_MAJOR", good)).find("driver ABI 2"), std::string::npos);
  EXPECT_NE(refusal(install("SHORT_STRUCT", good)).find("too short"), std::string::npos);
  EXPECT_NE(refusal(install("NO_FUNCTION", good)).find("functions is missing"), std::string::npos);
  EXPECT_NE(refusal(install("NO_QUERY", good)).find("fairlead_driver_query"), std::string::npos);
  EXPECT_NE(refusal(install("NO_DRIVER", good)).find("gives no driver"), std::string::npos);
}

TEST_F(DriverTest, WithoutAFittingManifestNothingOfItRuns) {
  EXPECT_NE(refusal(install("LONGER", "driver_abi = 2\n")).find("driver_abi is not 1"),
            std::string::npos);
  EXPECT_NE(refusal(install("WRONG_MAJOR", "")).find(".toml: is not there"), std::string::npos);
  EXPECT_NE(refusal(install("NO_DRIVER", "driver_abi = \n")).find("is no TOML"), std::string::npos);
  EXPECT_NE(refusal(folder_ / "absent.so").find("is not there"), std::string::npos);
  EXPECT_FALSE(std::filesystem::exists(mark()));
}

TEST_F(DriverTest, WhatAnyoneMayWriteIsRefusedUnloaded) {
  auto file = install("LONGER", "driver_abi = 1\n");
  ASSERT_EQ(chmod(file.c_str(), 0777), 0);
  EXPECT_NE(refusal(file).find("anyone may write"), std::string::npos);
  ASSERT_EQ(chmod(file.c_str(), 0755), 0);
  ASSERT_EQ(chmod((folder_ / "LONGER.toml").c_str(), 0666), 0);
  EXPECT_NE(refusal(file).find("anyone may write"), std::string::npos);
  EXPECT_FALSE(std::filesystem::exists(mark()));
}

}  // namespace
}  // namespace fairlead::host
