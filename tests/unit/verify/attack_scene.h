// What a dishonest base works on: one honest job with its record, all of the base's keys (root,
// log, admin, service), never a truck's, and a countersigner who is careful or colludes. An attack
// leaves a bundle behind, sealed by the base; attacks_test.cpp lets the verifier look at it.
#pragma once

#include <functional>
#include <random>
#include <string>
#include <vector>

#include "clients/verify/case.h"
#include "tests/unit/verify/small_job.h"

namespace fairlead {

/// Who can tell.
enum class By {
  kBundle,         // Anybody with the bundle and a policy that names no countersigner.
  kPolicy,         // Anybody whose policy names the countersigner that is played false.
  kSeenHead,       // Only because a truck remembered a head of the true history.
  kCountersigner,  // Only a countersigner's word, or its absence, tells.
  kWords,          // Nobody: the verifier says in words what it did not or could not check.
};

struct Scene {
  explicit Scene(uint64_t seed) : random(seed) {}

  /// The honest history: job, findings, a few more notes, heads; then the bundle of it.
  void record_job();
  void make_bundle();
  /// All of the base's history so far, to be changed and handed to rewrite_as.
  [[nodiscard]] std::vector<Leaf> history() const { return job.base.leaves; }
  /// The base makes this its log, signs a head over it, asks for a cosignature, and bundles it.
  void rewrite_as(std::vector<Leaf> changed);

  /// A number below `end`.
  size_t pick(size_t end) { return static_cast<size_t>(random() % end); }
  /// Place in `bundle.entries` of the entry at this leaf.
  [[nodiscard]] record::BundleEntry& at(uint64_t leaf);
  void drop(uint64_t leaf);
  /// Leaf of one of the truck's entries strictly inside the job.
  [[nodiscard]] uint64_t inner_leaf() { return inner[pick(inner.size())]; }
  /// Keeps bytes a bundle's views point into.
  std::string& keep(std::string text) { return kept.emplace_back(std::move(text)); }
  void change_meta(const std::function<void(v1::BundleMeta&)>& change);
  /// One bit of these bytes turned over.
  [[nodiscard]] std::string flipped(std::string text);

  std::mt19937_64 random;
  SmallJob job;
  bool trucks_saw = false;  // Trucks remember heads of the true history.
  bool watched = false;     // There is a countersigner, who saw the true history's last head.
  bool colludes = false;    // The countersigner signs whatever it is shown.
  std::vector<uint64_t> inner;
  uint64_t early_leaf = 0;  // An entry of the base's own, before the job.
  record::Bundle bundle;
  std::string bytes;  // What is handed over; sealed from `bundle` when the attack leaves it empty.
  std::vector<verifier::PagesFile> pages;
  std::deque<std::string> kept;

 private:
  void ask_countersigner();
  std::optional<record::Checkpoint> cosigned_;  // The careful countersigner's memory.
};

struct Attack {
  const char* name;
  By by;
  int step;           // The step that finds it or says what it could not check; kAlways below.
  const char* words;  // Of that step's sentence; "" for any.
  std::function<void(Scene&)> act;
};

/// In place of a step: the words stand under every verdict.
inline constexpr int kAlways = -1;

/// All of them, by what they change: the bundle, keys and chains, the log itself, findings and
/// pages.
[[nodiscard]] std::vector<Attack> attacks_on_bundle();
[[nodiscard]] std::vector<Attack> attacks_on_form();
[[nodiscard]] std::vector<Attack> attacks_with_keys();
[[nodiscard]] std::vector<Attack> attacks_on_history();
[[nodiscard]] std::vector<Attack> attacks_on_words();
[[nodiscard]] std::vector<Attack> all_attacks();

}  // namespace fairlead
