// The chains of a ledger in memory: who may append what next. The table chain is their durable
// form.
//
// Threads: one thread at a time.
#pragma once

#include <map>
#include <set>
#include <vector>

#include "daemon/ledger/sqlite/database.h"
#include "daemon/ledger/types.h"

namespace fairlead::ledger {

struct Chain {
  int64_t row = 0;
  Watermark mark;
  Hash genesis{};
  std::set<uint64_t> waiting;  // Seqs whose body has not come.
  bool changed = false;        // Since the last commit.

  /// prev of the next entry.
  [[nodiscard]] const Hash& tip() const { return mark.seq == 0 ? genesis : mark.chain; }
  /// Brings body_seq up to date with `waiting`.
  void settle_bodies();
};

class Chains {
 public:
  /// Reads all from the database. Errors: kCorrupt, kIo.
  [[nodiscard]] static Result<Chains> load(const Database& database);

  /// nullptr when there is none. Valid until the next `start`.
  [[nodiscard]] Chain* find(const Id16& device_id, uint32_t epoch);
  [[nodiscard]] Chain* latest(const Id16& device_id);
  [[nodiscard]] bool has(const Id16& device_id, uint32_t epoch) const {
    return chains_.contains({device_id, epoch});
  }

  /// Adds a chain in memory and as a row of the open transaction. Idempotent. Errors: kConflict.
  [[nodiscard]] Status start(Database& database, const ChainStart& start, uint64_t from_leaf);
  /// The key of a device changes for what comes from `from_leaf` on.
  [[nodiscard]] Status rekey(Database& database, const Id16& device_id, const PublicKey& key,
                             uint64_t from_leaf);
  /// Writes the changed ones into the open transaction.
  [[nodiscard]] Status save(Database& database);

  /// Of each device the latest epoch.
  [[nodiscard]] std::vector<Chain> current() const;

 private:
  [[nodiscard]] static Status note_key(Database& database, int64_t chain, uint64_t from_leaf,
                                       const PublicKey& key);
  std::map<std::pair<Id16, uint32_t>, Chain> chains_;
};

}  // namespace fairlead::ledger
