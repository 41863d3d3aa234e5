// A base with one officer, and devices that sign entries as a truck does: what the tests of the
// ledger (here, in tests/fault and tests/bench) play with. All keys and contents follow from small
// numbers, so a crashed run can be repeated byte for byte.
#pragma once

#include <gtest/gtest.h>

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/ledger/sqlite/open.h"
#include "daemon/record/checkpoint.h"
#include "daemon/record/leaf.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::ledger {

inline std::shared_ptr<const SecretKey> key_of(uint8_t number) {
  return std::make_shared<const SecretKey>(
      *SecretKey::from_seed(std::string(32, static_cast<char>(number))));
}

inline Id16 id_of(uint8_t number) {
  Id16 id{};
  id.fill(number);
  return id;
}

// A folder that is gone with the test.
class TestFolder {
 public:
  TestFolder() {
    std::string name = (std::filesystem::temp_directory_path() / "fairlead-ledger-XXXXXX").string();
    path_ = ::mkdtemp(name.data());
  }
  TestFolder(const TestFolder&) = delete;
  ~TestFolder() {
    std::error_code error;
    std::filesystem::remove_all(path_, error);
  }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

inline Options base_options(const std::filesystem::path& folder) {
  const auto secret = key_of(200);
  const auto origin = *record::origin_of("ozzlewick", 1);
  const auto log =
      *record::make_verifier_key(origin, record::NoteKeyType::kEd25519, secret->public_key());
  Options options;
  options.folder = folder / "ledger";
  options.head_file = folder / "head";
  options.signer = LogSigner{log, secret};
  return options;
}

inline std::unique_ptr<Ledger> open_or_fail(const Options& options) {
  auto ledger = open_sqlite(options);
  if (!ledger) {
    ADD_FAILURE() << ledger.error().message;
    return nullptr;
  }
  return std::move(*ledger);
}

constexpr uint8_t kOfficer = 250;

/// An entry of the officer's own chain; starts that chain at first use.
inline AppendResult officer_writes(Ledger& ledger, Kind kind, std::string body,
                                   const Id16& job = {}) {
  EXPECT_TRUE(
      ledger.start_chain({id_of(kOfficer), 1, key_of(kOfficer)->public_key(), sha256("roster")}));
  OwnEntry own;
  own.header.kind = kind;
  own.header.device_id = id_of(kOfficer);
  own.header.job_id = job;
  own.header.wall_us = 1'772'445'600'000'000;
  own.body = std::move(body);
  own.key = key_of(kOfficer);
  auto results = ledger.append_own({own}).get();
  if (!results) {
    ADD_FAILURE() << results.error().message;
    return {};
  }
  return results->at(0);
}

inline AppendResult enrol(Ledger& ledger, uint8_t device) {
  v1::EnrolBody body;
  body.set_device_id(string_of(id_of(device)));
  body.set_public_key(string_of(key_of(device)->public_key().bytes));
  body.set_device_name("OW-04");
  body.set_kind(v1::EnrolBody::TRUCK);
  return officer_writes(ledger, Kind::kEnrol, body.SerializeAsString());
}

// Unlike any other, and the same in every run.
inline Salt salt_of(uint8_t number, uint64_t seq) {
  const Hash hash = sha256("salt " + std::to_string(number) + " " + std::to_string(seq));
  Salt salt{};
  std::copy_n(hash.begin(), salt.size(), salt.begin());
  return salt;
}

// Signs a device's entries one after the other. What entry n holds depends only on the device, n
// and the entry before, so two runs make the same bytes.
class TestTruck {
 public:
  TestTruck(uint8_t number, Watermark mark)
      : number_(number), key_(key_of(number)), mark_(std::move(mark)) {}

  SentEntry next(Kind kind = Kind::kObservations, const Id16& job = {}, std::string body = "") {
    SentEntry sent;
    const uint64_t seq = mark_.seq + 1;
    if (body.empty()) body = "body " + std::to_string(number_) + " " + std::to_string(seq);
    EntryHeader header;
    header.kind = kind;
    header.ledger_id = record::ledger_id_of(*record::origin_of("ozzlewick", 1));
    header.device_id = id_of(number_);
    header.epoch = mark_.epoch;
    header.seq = seq;
    header.prev = mark_.chain;
    header.wall_us = static_cast<int64_t>(seq);
    header.job_id = job;
    sent.salt = salt_of(number_, seq);
    EXPECT_TRUE(record::bind_body(header, sent.salt, body));
    sent.entry = record::sign_entry(header, *key_);
    sent.body = std::move(body);
    mark_.seq = seq;
    mark_.chain = record::chain_of(sent.entry);
    return sent;
  }

 private:
  uint8_t number_;
  std::shared_ptr<const SecretKey> key_;
  Watermark mark_;
};

inline AppendResult append_one(Ledger& ledger, const SentEntry& sent) {
  auto results = ledger.append({sent}).get();
  if (!results) {
    ADD_FAILURE() << results.error().message;
    return {};
  }
  return results->at(0);
}

}  // namespace fairlead::ledger
