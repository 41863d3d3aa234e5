// What one transaction of the writer does: takes entries in, keeps chains, jobs and the tree in
// step.
//
// Begin, any number of appends, then commit; after a failed commit or a rollback the memory is read
// back from the database, so it never runs ahead of the disk.
// Threads: the writer's thread only.
#pragma once

#include "daemon/ledger/body_codec.h"
#include "daemon/ledger/sqlite/chains.h"
#include "daemon/ledger/sqlite/own_effect.h"
#include "daemon/ledger/sqlite/tree_rows.h"
#include "daemon/ledger/types.h"

namespace fairlead::ledger {

class HoldCheck;

class Store {
 public:
  /// `ledger_id`: of entries made here; on a base also the only one taken in. `tree`: base.
  [[nodiscard]] static Result<Store> open(Database database, const Id16& ledger_id, bool tree);

  /// Entries that name one of these ledgers are taken in too.
  void take_from(std::vector<Id16> ancestors) { ancestors_ = std::move(ancestors); }

  [[nodiscard]] Status begin();
  /// Durable when it returns. Errors: the transaction is undone; kIo and kCorrupt are for good.
  [[nodiscard]] Status commit();
  void rollback();
  /// Copies the write-ahead log into the database when it has grown. Errors: for good.
  [[nodiscard]] Status checkpoint_if_grown();
  /// After an erasure: writes the database afresh first, since pages keep copies of moved rows.
  /// Copies the log into the database and cuts it to nothing, so that deleted bytes are gone from
  /// it. False: a reader still needs it. Errors: for good, but a full disk (kUnavailable).
  [[nodiscard]] Result<bool> wipe_log();
  /// After an I/O failure: nothing is copied when the database closes.
  void leave_files_alone();

  // An error means the transaction must be rolled back; a refusal is a result like any other.
  [[nodiscard]] Result<AppendResult> append(const SentEntry& sent, int64_t now_us);
  [[nodiscard]] Result<AppendResult> append_own(const OwnEntry& own, int64_t now_us);
  [[nodiscard]] Result<AppendResult> append_body(const Id16& device_id, uint32_t epoch,
                                                 uint64_t seq, const Salt& salt,
                                                 std::string_view body);
  /// Looks at holds and deletes what nobody holds. Attachments are not touched: the caller unlinks
  /// them after the commit.
  [[nodiscard]] Result<EraseResult> erase(const EraseOrder& order, int64_t now_us);
  /// First half: DROP for the oldest run of samples outside jobs; second half: deletes them.
  [[nodiscard]] Result<std::vector<uint64_t>> announce_drop(uint64_t bytes, const OwnEntry& own,
                                                            Dropped& dropped, int64_t now_us);
  /// Leaves whose bodies a truck need not keep, see Ledger::free_bodies.
  [[nodiscard]] Result<std::vector<uint64_t>> bodies_to_free(const Id16& device, uint64_t upto_seq,
                                                             size_t most);
  [[nodiscard]] Status drop_bodies(const std::vector<uint64_t>& leaves);
  /// Of a ledger that is built again: takes in an entry at its old place and time.
  [[nodiscard]] Status replay(const StoredEntry& stored);
  [[nodiscard]] Status start_chain(const ChainStart& start);
  [[nodiscard]] Status change_key(const Id16& device_id, const PublicKey& key);
  void set_acked(const Id16& device_id, uint64_t seq);
  [[nodiscard]] Status put_file(std::string_view bytes);
  [[nodiscard]] Status put_order(const HeldOrder& order);
  [[nodiscard]] Status put_value(std::string_view name, std::string_view bytes);

  [[nodiscard]] uint64_t size() const { return next_leaf_; }
  [[nodiscard]] const record::TreeEdge& edge() const { return edge_; }
  [[nodiscard]] const Chains& chains() const { return chains_; }
  [[nodiscard]] const Database& database() const { return database_; }

 private:
  struct Statements;
  struct New {
    const EntryBytes& entry;
    const EntryHeader& header;
    BodyState state;
    const Salt& salt;
    std::string_view body;
  };

  Store(Database database, const Id16& ledger_id, bool tree);
  [[nodiscard]] Status load();
  /// A number the chain already has: the same bytes, or a fork.
  [[nodiscard]] Result<AppendResult> again(Chain& chain, const EntryHeader& header,
                                           const SentEntry& sent);
  [[nodiscard]] Result<uint64_t> insert(Chain& chain, const New& entry, int64_t now_us);
  [[nodiscard]] Status insert_body(uint64_t leaf, const Salt& salt, std::string_view body);
  [[nodiscard]] Status grow_tree(const EntryBytes& entry, int64_t recv_us);
  [[nodiscard]] Status follow_job(int64_t job, const New& entry, uint64_t leaf);
  [[nodiscard]] Status follow_kind(int64_t job, Kind kind, std::string_view body,
                                   const Id16& device, uint64_t leaf);
  [[nodiscard]] Status apply(const OwnEffect& effect, const EntryBytes& entry, uint64_t leaf,
                             int64_t recv_us);
  [[nodiscard]] Result<int64_t> job_row(const Id16& job_id);
  [[nodiscard]] Result<std::optional<std::string>> why_kept(uint64_t leaf, HoldCheck& holds,
                                                            EntryHeader& header);
  [[nodiscard]] Status write_erase(const EraseOrder& order, const std::set<Hash>& named,
                                   EraseResult& result, int64_t now_us);
  /// The next wipe_log writes the database afresh; part of the transaction that erases.
  [[nodiscard]] Status ask_for_rewrite();
  [[nodiscard]] Status rewrite_if_asked();
  [[nodiscard]] Status erase_body(uint64_t leaf, const EntryHeader& header);
  [[nodiscard]] Result<std::vector<Hash>> attachments_of(uint64_t leaf);
  /// Bodies a truck will never send any more count as erased.
  [[nodiscard]] Status follow_drop(Chain& chain, std::string_view body);

  Database database_;
  std::shared_ptr<Statements> statements_;
  Id16 ledger_id_;
  std::vector<Id16> ancestors_;
  bool tree_;
  BodyCodec codec_;
  std::string packed_;  // Reused.
  Chains chains_;
  record::TreeEdge edge_;
  uint64_t next_leaf_ = 0;
  uint64_t drop_from_seq_ = 1;  // Samples before it are gone or belong to jobs.
  std::unique_ptr<int> wal_pages_ = std::make_unique<int>(0);  // Told by SQLite at each commit.
};

}  // namespace fairlead::ledger
