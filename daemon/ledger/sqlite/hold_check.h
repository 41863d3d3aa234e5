// Who holds an entry, asked on the connection and in the transaction that would delete it.
//
// A hold on a job keeps every entry under the job's id, all that its truck recorded from its
// opening to its closing, and the cards that its entries name. Threads: as the connection.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <vector>

#include "daemon/ledger/body_codec.h"
#include "daemon/ledger/holds.h"
#include "daemon/ledger/sqlite/database.h"

namespace fairlead::ledger {

/// HOLD and HOLD_END of the ledger, in order. Errors: kCorrupt, kIo.
[[nodiscard]] Result<Holds> read_holds(const Database& database, BodyCodec& codec);

class HoldCheck {
 public:
  struct Entry {
    uint64_t leaf = 0;
    Kind kind = Kind::kObservations;
    int64_t chain = 0;
    std::optional<int64_t> job;  // Row of its job.
    std::string_view body;       // Of a CARD.
  };

  [[nodiscard]] static Result<HoldCheck> load(const Database& database);
  /// In words; nullopt when nobody holds it.
  [[nodiscard]] Result<std::optional<std::string>> held_by(const Entry& entry);

 private:
  struct Span {
    int64_t job = 0;
    std::set<int64_t> chains;  // Of the device that opened the job.
    uint64_t first = 0, last = 0;
    std::string words;
  };
  explicit HoldCheck(const Database& database) : database_(&database) {}
  [[nodiscard]] Status load_spans();
  [[nodiscard]] Status add_span(const Id16& job_id, const Hold& hold);
  [[nodiscard]] Status load_cards();

  const Database* database_;
  BodyCodec codec_;
  Holds holds_;
  std::vector<Span> spans_;
  std::optional<std::map<std::string, std::string>> cards_;  // Id in hex, to who holds it.
};

}  // namespace fairlead::ledger
