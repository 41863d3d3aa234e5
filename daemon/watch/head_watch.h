// Whether this base's disk is the newest there is of it. A restored disk cannot know that by
// itself, so a base that has enrolled a truck, or that somebody countersigns, signs nothing after a
// start until one of them has shown a head that is not above its own. A larger head, or another one
// of the same size, freezes the base: it takes nothing in and signs nothing, and goes on being
// read.
//
// Also knows the ledger's earlier generations by their seams.
// Threads: any. The ledger must outlive it.
#pragma once

#include <filesystem>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/ledger/ledger.h"
#include "daemon/record/note.h"
#include "fairlead/v1/intake_service.pb.h"

namespace fairlead::watch {

/// An earlier generation: its first kept_size leaves stand at the beginning of this tree.
struct Ancestor {
  std::string origin;
  record::Id16 ledger_id{};
  uint64_t kept_size = 0;
  v1::SignedLeaf seam;  // The RESTORE entry that ended it.
};

/// The newest head that somebody has seen of this base.
struct ShownHead {
  uint64_t size = 0;  // 0 = none.
  std::string_view root;
  std::string_view note;  // Signed; empty = only the numbers are known.
  std::string who;        // For people: "truck OW-04".
};

struct HeadWatchOptions {
  /// Somebody cosigns this base's heads and can be asked.
  bool countersigned = false;
  /// Sign without having asked anybody.
  bool alone = false;
};

/// A head that showed this base to be an older copy, beside the base's folder of keys, and how far
/// the base had signed when it was started on that copy.
struct LargerHead {
  std::string note;
  uint64_t kept_size = 0;
};
[[nodiscard]] Result<std::optional<LargerHead>> load_larger_head(const std::filesystem::path& data);

class HeadWatch {
 public:
  /// Lets the ledger sign if nobody needs to be asked; freezes it if a larger head is on file.
  [[nodiscard]] static Result<std::unique_ptr<HeadWatch>> open(ledger::Ledger& ledger,
                                                               const record::VerifierKey& log,
                                                               const std::filesystem::path& data,
                                                               const HeadWatchOptions& options);

  /// Errors: kConflict with words for people when the head does not fit this ledger; others of the
  /// ledger.
  [[nodiscard]] Status show(const ShownHead& head);

  /// Of a head that fits: its size if it is a beginning of this tree, else 0 (it lies in the lost
  /// end of an earlier generation).
  [[nodiscard]] uint64_t size_in_tree(uint64_t size, std::string_view note) const;
  /// Empty while all is well; else why nothing is taken in.
  [[nodiscard]] std::string frozen() const;
  /// Nobody has shown a head yet.
  [[nodiscard]] bool waiting() const;
  /// Oldest first.
  [[nodiscard]] const std::vector<Ancestor>& ancestors() const { return ancestors_; }

 private:
  HeadWatch(ledger::Ledger& ledger, const record::VerifierKey& log, std::filesystem::path data)
      : ledger_(ledger), log_(log), data_(std::move(data)) {}
  Status load_ancestors();
  Status take_up(const HeadWatchOptions& options);
  Result<bool> has_trucks() const;
  Status show_own(const ShownHead& head);
  Status show_older(const Ancestor& ancestor, const ShownHead& head);
  Status freeze(const ShownHead& head, const std::string& words);
  void clear();

  ledger::Ledger& ledger_;
  const record::VerifierKey log_;
  std::filesystem::path data_;
  std::vector<Ancestor> ancestors_;
  uint64_t size_at_start_ = 0;  // Of the newest head signed before this start.
  mutable std::mutex mutex_;    // Guards the members below.
  std::string frozen_;
  bool waiting_ = true;
};

}  // namespace fairlead::watch
