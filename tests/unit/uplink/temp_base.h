// A base on a real ledger in a folder of its own, without network: office, devices, protocol.
#pragma once

#include <gtest/gtest.h>

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "daemon/base/key_file.h"
#include "daemon/intake/intake_state.h"
#include "daemon/watch/generation.h"

namespace fairlead::test {

class TempFolder {
 public:
  TempFolder()
      : path_(std::filesystem::temp_directory_path() / ("fairlead_" + hex_of(random_array<8>()))) {
    std::filesystem::create_directories(path_);
  }
  ~TempFolder() { std::filesystem::remove_all(path_); }
  TempFolder(const TempFolder&) = delete;
  TempFolder& operator=(const TempFolder&) = delete;
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

class TempBase {
 public:
  TempBase() { start(); }
  /// As after a crash of the process: everything in memory is gone.
  void restart() {
    stop();
    start();
  }
  /// Copies the disk as it is now, as an owner does, with the base stopped.
  void save_to(const std::filesystem::path& copy) {
    stop();
    std::filesystem::remove_all(copy);
    std::filesystem::copy(folder_.path(), copy, std::filesystem::copy_options::recursive);
    start();
  }
  /// Puts such a copy back.
  void put_back(const std::filesystem::path& copy) {
    stop();
    std::filesystem::remove_all(folder_.path());
    std::filesystem::copy(copy, folder_.path(), std::filesystem::copy_options::recursive);
    start();
  }
  Result<watch::NewGeneration> declare(const std::string& cause) {
    stop();
    auto made = watch::declare_generation(folder_.path(), cause, "");
    start();
    return made;
  }
  ledger::Ledger& ledger() { return office_->ledger(); }
  watch::Office& office() { return *office_; }
  intake::Devices& devices() { return *devices_; }

  std::vector<ledger::StoredEntry> of_device(const record::Id16& device, uint32_t epoch = 1) {
    std::vector<ledger::StoredEntry> out;
    for (;;) {
      const auto page = ledger().device_entries(device, epoch, out.size() + 1, 256, true);
      EXPECT_TRUE(page) << page.error().message;
      if (!page || page->empty()) return out;
      out.insert(out.end(), page->begin(), page->end());
    }
  }
  uint64_t order(const std::string& words) {
    v1::OrderBody body;
    body.mutable_sheet()->set_words(words);
    return office_->write(record::Kind::kOrder, {}, body).value().leaf;
  }
  /// A roster after the one in force that names a new admin key instead of the old, signed by the
  /// root; the new key lies ready beside the old one.
  std::string roster_with_new_admin() {
    const auto keys = folder_.path() / "keys";
    const SecretKey admin = SecretKey::generate();
    EXPECT_TRUE(write_private_file(keys / "admin.key.next", admin.to_text().view()));
    record::Roster next = office_->roster();
    next.admins = {{random_array<16>(),
                    *record::make_verifier_key("memory/admin", record::NoteKeyType::kEd25519,
                                               admin.public_key())}};
    return record::sign_roster(next, *load_or_make_key(keys / "root.key")).value();
  }
  [[nodiscard]] const std::filesystem::path& path() const { return folder_.path(); }

 private:
  void stop() {
    devices_.reset();
    office_.reset();
  }
  void start() {
    auto office = watch::Office::open(folder_.path(), "memory");
    ASSERT_TRUE(office) << office.error().message;
    office_ = std::move(*office);
    devices_ = std::make_unique<intake::Devices>(*office_);
    const Status loaded = devices_->load();
    ASSERT_TRUE(loaded) << loaded.error().message;
  }

  TempFolder folder_;
  std::unique_ptr<watch::Office> office_;
  std::unique_ptr<intake::Devices> devices_;
};

}  // namespace fairlead::test
