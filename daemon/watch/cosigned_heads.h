// All heads of this ledger that somebody countersigned, read from its HEAD_COSIGNED entries: their
// sizes and times in memory, their notes in the ledger.
//
// Threads: any.
#pragma once

#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "daemon/ledger/ledger.h"
#include "daemon/record/brackets.h"

namespace fairlead::watch {

class CosignedHeads {
 public:
  struct Cosignature {
    std::string by;  // Key name.
    uint64_t at_s = 0;
  };
  struct Head {
    uint64_t size = 0;
    uint64_t entry_leaf = 0;
    std::vector<Cosignature> cosignatures;
  };

  /// Reads what stands in the ledger. Errors: of the ledger; kCorrupt naming the leaf.
  [[nodiscard]] Status load(const ledger::Ledger& ledger, const std::string& origin);
  /// A HEAD_COSIGNED entry was written at `leaf`; `note` is its body's. Notes of another origin are
  /// of an earlier generation and left out.
  [[nodiscard]] Status add(const std::string& note, const std::string& origin, uint64_t leaf);

  /// The largest; of one size the entry written last, which has most signatures.
  [[nodiscard]] std::optional<Head> newest() const;
  [[nodiscard]] std::optional<Head> of_size(uint64_t size) const;
  /// The smallest head over more than `leaf` leaves.
  [[nodiscard]] std::optional<Head> first_covering(uint64_t leaf) const;
  /// The one entered last before `size`: what a device that saw a head of this size had seen.
  [[nodiscard]] std::optional<Head> entered_before(uint64_t size) const;
  /// The newest that `by` signed.
  [[nodiscard]] std::optional<Head> newest_by(const std::string& by) const;
  [[nodiscard]] record::Bracket bracket(uint64_t seen_size, uint64_t leaf, size_t threshold) const;

  /// The checkpoint with its signature lines, as it stands in the HEAD_COSIGNED entry.
  [[nodiscard]] static Result<std::string> note_of(const ledger::Ledger& ledger, const Head& head);

 private:
  mutable std::mutex mutex_;
  std::vector<Head> heads_;  // By entry_leaf.
};

}  // namespace fairlead::watch
