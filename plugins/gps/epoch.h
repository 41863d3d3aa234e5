// One fix an epoch. gpsd reports an epoch several times as its sentences come in, each report with
// more in it; what counts is the last state of each. An epoch is over when a report of another time
// comes, or when nothing more came for a while (the caller's timer).
//
// Also watches two things a single fix cannot show: a receiver that goes on saying exactly 0.0 m/s
// while its position walks away (some freeze the speed when slow), and the loss of the fix.
//
// Threads: one at a time.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "plugins/gps/protocol.h"
#include "plugins/sdk/feed.h"

namespace fairlead::gps {

struct Epoch {
  v1::Fix fix;
  std::optional<int64_t> receiver_us;
  /// When its first report arrived.
  sdk::Stamp arrived;
  Basis basis = Basis::kUnstated;
  /// The speed is frozen at 0.0: the fix is not to be trusted.
  bool frozen = false;
};

class EpochMerger {
 public:
  struct Out {
    std::optional<Epoch> epoch;
    /// The receiver works but has no fix any more (once a loss).
    bool lost_fix = false;
  };

  /// Reports without a time belong to no epoch and are passed over. So are those of the epoch that
  /// was given out last. A time that steps back is another epoch: receivers' dates wrap.
  Out push(const Tpv& tpv, sdk::Stamp at);
  /// Counts for the epoch of the same time only.
  void push(const Gst& gst) { gst_ = gst; }
  /// What is collected so far, as nothing more came.
  Out flush();
  /// Something is collected since this monotonic time; empty: nothing.
  [[nodiscard]] std::optional<int64_t> pending_since_us() const;
  /// When the first report of it arrived.
  [[nodiscard]] std::optional<sdk::Stamp> pending_from() const;
  /// A new connection: nothing before it counts.
  void forget();

 private:
  void merge(const Tpv& tpv);
  bool frozen(const v1::Fix& fix);

  std::optional<Tpv> pending_;
  std::optional<Gst> gst_;
  sdk::Stamp first_;
  int64_t last_mono_us_ = 0;
  std::optional<int64_t> given_time_us_;
  std::optional<bool> had_fix_;  // Empty: not known yet.
  // First fix of the present run of exact zeros.
  std::optional<v1::Fix> zero_start_;
  int zeros_ = 0;
};

/// Metres between two fixes on a sphere of 6,371,008.8 m (mean radius R1, IUGG).
[[nodiscard]] double distance_m(const v1::Fix& a, const v1::Fix& b);

}  // namespace fairlead::gps
