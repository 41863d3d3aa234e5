// A base, its officers and one truck in memory, with freshly made keys: writes entries, grows the
// tree, and hands out bundles as an honest base would. Tests then play the dishonest one.
#pragma once

#include <gtest/gtest.h>

#include <deque>
#include <string>
#include <vector>

#include "clients/verify/policy.h"
#include "daemon/record/bundle.h"
#include "daemon/record/checkpoint.h"
#include "daemon/record/commitment.h"
#include "daemon/record/leaf.h"
#include "daemon/record/roster.h"
#include "fairlead/v1/record.pb.h"
#include "tests/unit/record/merkle_tree.h"

namespace fairlead {

/// A writer of one chain.
struct Writer {
  record::Id16 id = random_array<16>();
  SecretKey key = SecretKey::generate();
  uint32_t epoch = 1;
  uint64_t seq = 0;
  Hash prev{};
};

struct Leaf {
  record::EntryHeader header;
  record::EntryBytes entry{};
  int64_t recv_us = 0;
  record::Salt salt{};
  std::string body;
};

class SmallBase {
 public:
  SmallBase();

  /// Appends an entry by `writer`; returns its leaf index.
  uint64_t write(Writer& writer, record::Kind kind, const std::string& body,
                 const record::Id16& job = {});
  uint64_t enrol(Writer& device, v1::EnrolBody::Kind kind = v1::EnrolBody::TRUCK);
  /// Signs a head over all leaves; with `cosign` the countersigner adds its line.
  void sign_head(bool cosign);

  /// The base rewrites its history: these leaves are the log. Entries under the base's own keys are
  /// bound, chained and signed anew, those of trucks stay as they are; the signed heads are gone.
  void rewrite(std::vector<Leaf> changed);
  /// Takes an entry in as it was signed.
  void append(const Leaf& leaf);
  /// Shows a head signed elsewhere or earlier among its own.
  void show_head(std::string note) { heads_.push_back(std::move(note)); }
  void drop_head() { heads_.pop_back(); }

  /// A bundle about `job` of `device` under the last head: own and judged bodies shown, base bodies
  /// shown, the rest bare.
  [[nodiscard]] record::Bundle bundle(const record::Id16& job, const Writer& device);
  /// Written and sealed.
  [[nodiscard]] std::string seal(const record::Bundle& bundle) const;
  [[nodiscard]] verifier::Policy policy(bool with_countersigner) const;

  [[nodiscard]] const std::string& origin() const { return log.name; }
  [[nodiscard]] const std::vector<std::string>& heads() const { return heads_; }
  [[nodiscard]] const MemoryTree& tree() const { return tree_; }

  SecretKey root_key = SecretKey::generate();
  SecretKey log_key = SecretKey::generate();
  SecretKey countersigner_key = SecretKey::generate();
  Writer admin, service;
  record::VerifierKey log, countersigner;
  std::string roster;
  std::vector<Leaf> leaves;
  /// What every entry written from here on says its device had seen.
  uint64_t seen_size = 0;

 private:
  [[nodiscard]] record::BundleEntry entry_of(uint64_t leaf, const record::Bundle& shown) const;

  MemoryTree tree_;
  std::vector<std::string> heads_;
  std::deque<std::string> kept_;  // Bytes the bundles' views point into.
};

}  // namespace fairlead
