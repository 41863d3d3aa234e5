// The ledger over SQLite: the writer's thread, a pool of readers, attachments beside them.
//
// Threads: as Ledger says.
#pragma once

#include "daemon/base/key_file.h"
#include "daemon/ledger/attachments.h"
#include "daemon/ledger/sqlite/open.h"
#include "daemon/ledger/sqlite/reader.h"
#include "daemon/ledger/sqlite/writer.h"

namespace fairlead::ledger {

class SqliteLedger final : public Ledger {
 public:
  SqliteLedger(FolderLock lock, const Options& options, Store store,
               std::optional<SignedHead> head);
  ~SqliteLedger() override;

  using Ledger::append;
  using Ledger::append_own;

  Status start_chain(const ChainStart& start) override;
  Status change_key(const Id16& device_id, const PublicKey& key) override;
  Result<Watermark> watermark(const Id16& device_id) const override;
  Result<std::vector<Watermark>> watermarks() const override;
  Result<std::vector<uint64_t>> bodies_missing(const Id16& device_id, size_t most) const override;
  Result<std::vector<uint64_t>> bodies_missing_in(const Id16& device_id, uint32_t epoch,
                                                  size_t most) const override;
  void append(std::vector<SentEntry> batch, Appended done, bool urgent) override;
  void append_own(std::vector<OwnEntry> batch, Appended done, bool urgent) override;
  void append_body(const Id16& device_id, uint32_t epoch, uint64_t seq, const Salt& salt,
                   std::string body, Appended done) override;
  using Ledger::erase;
  void erase(EraseOrder order, Erased done) override;
  Result<uint64_t> free_bodies(const Id16& device_id, uint64_t upto_seq, size_t most) override;
  Result<Dropped> drop_oldest_strips(uint64_t bytes, OwnEntry own) override;
  Result<std::vector<uint64_t>> leaves_naming(const Hash& sha256) const override;
  Result<Holds> holds() const override;
  void set_room(Room room, std::string words) override;
  Result<uint64_t> reusable_bytes() const override;
  void set_acked(const Id16& device_id, uint64_t seq) override;
  std::string failure() const override { return writer_.failure(); }

  uint64_t size() const override { return writer_.size(); }
  Result<std::vector<StoredEntry>> entries(uint64_t from_leaf, size_t most,
                                           bool bodies) const override;
  Result<StoredEntry> entry(uint64_t leaf) const override;
  Result<std::vector<StoredEntry>> device_entries(const Id16& device_id, uint32_t epoch,
                                                  uint64_t from_seq, size_t most,
                                                  bool bodies) const override;
  Result<std::vector<StoredEntry>> entries_of_kind(Kind kind, uint64_t from_leaf,
                                                   size_t most) const override;
  Result<std::vector<StoredEntry>> job_entries(const Id16& job_id) const override;
  Result<std::vector<JobRow>> jobs(uint64_t from_leaf, size_t most) const override;
  Result<JobRow> job(const Id16& job_id) const override;
  Result<std::vector<JobRow>> open_jobs(const Id16& device_id) const override;

  Result<Hash> root_at(uint64_t size) const override;
  Result<std::vector<Hash>> inclusion(uint64_t leaf, uint64_t size) const override;
  Result<std::vector<Hash>> consistency(uint64_t from, uint64_t to) const override;
  std::optional<SignedHead> head() const override { return writer_.head(); }
  Result<SignedHead> sign_head() override { return writer_.sign_now(); }
  void allow_signing() override { writer_.allow_signing(); }
  void freeze(const std::string& words) override { writer_.freeze(words); }
  void on_committed(std::function<void(uint64_t, uint64_t)> callback) override;
  void on_head(std::function<void(const SignedHead&)> callback) override;

  Result<Hash> put_attachment(std::string_view bytes) override;
  Result<AttachmentWriter> begin_attachment() override;
  Result<std::string> attachment(const Hash& sha256) const override {
    return attachments_.get(sha256);
  }
  bool has_attachment(const Hash& sha256) const override { return attachments_.has(sha256); }

  Status put_file(std::string_view bytes) override;
  Result<std::string> file(const Hash& sha256) const override;
  Status put_order(const HeldOrder& order) override;
  Result<std::vector<HeldOrder>> orders(uint64_t from_leaf) const override;
  Status put_value(std::string_view name, std::string_view bytes) override;
  Result<std::string> value(std::string_view name) const override;
  using Ledger::audit;
  Result<AuditReport> audit(const AuditOptions& options) const override;

 private:
  [[nodiscard]] Status write_and_wait(std::function<Status(Store&)> run);
  /// One piece of work, in a transaction of its own or with others; waits for its commit.
  [[nodiscard]] Status do_and_wait(Work work);
  /// Why this is not taken in just now; nullopt when it is.
  [[nodiscard]] std::optional<Error> no_room(Room needed) const;
  /// Errors: kBadInput on a truck or beyond the end.
  [[nodiscard]] Status check_tree_size(uint64_t size) const;
  template <typename Make>
  void append_each(size_t count, Appended done, bool urgent, Make make);

  FolderLock lock_;
  Options options_;
  Attachments attachments_;
  mutable Readers readers_;
  Writer writer_;
  mutable std::mutex room_mutex_;
  Room room_ = Room::kAll;
  std::string room_words_;
};

}  // namespace fairlead::ledger
