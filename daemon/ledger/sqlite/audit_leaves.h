// Walks the leaves in order and checks each entry, its body and its place in its chain.
//
// Threads: as the connection.
#pragma once

#include <map>

#include "daemon/ledger/body_codec.h"
#include "daemon/ledger/sqlite/audit.h"
#include "daemon/ledger/sqlite/tree_rows.h"

namespace fairlead::ledger {

class LeafWalk {
 public:
  LeafWalk(const Database& database, const AuditScope& scope, AuditReport& report)
      : database_(database), scope_(scope), report_(report) {}

  // Each inside a transaction; the walk may go on in a later one, where the ledger has grown.
  // Errors only when the database cannot be read.

  [[nodiscard]] Status begin();
  [[nodiscard]] Status refresh();
  /// At most so many leaves; false when the end was reached and everything about it checked.
  [[nodiscard]] Result<bool> advance(size_t most);

 private:
  struct AuditChain {
    Id16 device_id{};
    uint32_t epoch = 0;
    Hash tip{};  // As walked so far.
    uint64_t seq = 0;
    Hash row_tip{};  // As the row says the end is.
    uint64_t row_seq = 0, row_leaf = 0, last_leaf = 0;
    std::map<uint64_t, PublicKey> keys;  // From which leaf on.
  };

  void problem(uint64_t leaf, std::string_view what);
  /// In a table that can be built again.
  void derived(uint64_t leaf, std::string_view what);
  [[nodiscard]] Status load_chains();
  [[nodiscard]] Status load_keys();
  [[nodiscard]] Status load_tips_before(uint64_t from_leaf);
  [[nodiscard]] Status load_edge_before(uint64_t from_leaf);
  [[nodiscard]] Status check_leaf(const Statement& row);
  void check_place(uint64_t leaf, const EntryBytes& entry, const EntryHeader& header,
                   AuditChain& chain);
  [[nodiscard]] Status check_body(uint64_t leaf, const EntryHeader& header, const Statement& row);
  [[nodiscard]] Status check_attached(uint64_t leaf, std::string_view body);
  [[nodiscard]] Status check_tree(uint64_t leaf, const EntryBytes& entry, int64_t recv_us);
  void check_end();

  const Database& database_;
  const AuditScope& scope_;
  AuditReport& report_;
  BodyCodec codec_;
  std::map<int64_t, AuditChain> chains_;
  record::TreeEdge edge_;
  std::optional<Statement> node_, attached_;
  uint64_t next_leaf_ = 0;
  std::string where_;  // The entry under check, for people.
};

}  // namespace fairlead::ledger
