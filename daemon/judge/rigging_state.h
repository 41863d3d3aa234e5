// What holds the car and with which strength: rigging between winch line and car, and tiedowns.
//
// Threads: one at a time; between two calls of follow() read-only.
#pragma once

#include <optional>
#include <set>
#include <string>
#include <vector>

#include "daemon/judge/job_lines.h"
#include "daemon/judge/register_book.h"
#include "daemon/judge/series.h"

namespace fairlead::judge {

/// Sum of what holds the car over [from, to): exact in grams, hi absent = unbounded.
struct Strength {
  int64_t from_us = 0, to_us = kForever;
  int64_t lo_g = 0, best_g = 0;
  std::optional<int64_t> hi_g = 0;
  int64_t count_lo = 0, count_best = 0;
  std::optional<int64_t> count_hi = 0;
  std::set<Reason> doubts = {}, count_doubts = {};  // Why the ends of the sum, of the count differ.
  std::vector<int> lines;                           // The pieces' lines.
  std::vector<std::string> remarks;                 // "gear 'x' is not in the register", ...
};

/// One rigging in force: which point, which gear, angle between the legs. It ends where its point
/// is named again; others may be in force beside it.
struct RiggingUse {
  int64_t from_us = 0, to_us = kForever;
  const v1::Rigging* rigging = nullptr;
  int line = kNoLine;
};

/// What tells one tiedown from others: its gear and where it holds.
[[nodiscard]] std::string piece_of(const v1::Tiedown& tiedown);

class RiggingState {
 public:
  RiggingState(const JobLines& lines, const RegisterBook& book);
  /// The lines have grown.
  void follow();

  /// Steps of the tiedowns' credited sum (49 CFR 393.106(d) credits: DIRECT and SAME_SIDE 1/2,
  /// ACROSS 1), one a change, from the beginning on.
  [[nodiscard]] const std::vector<Strength>& tiedowns() const { return tiedowns_; }
  /// Steps of the rigging: per point the weakest gear, summed over points.
  [[nodiscard]] const std::vector<Strength>& rigging() const { return rigging_; }
  [[nodiscard]] std::vector<RiggingUse> in_use(int64_t time_us) const;

  /// Least rating of the winch line and the gear in it, N; unknown from below where one of them is
  /// not rated by the register. A lost line may have changed the gear: then at most the winch
  /// line's own.
  [[nodiscard]] Interval line_rating(int64_t time_us, const TruckItem* truck) const;
  /// Why a lost line of a person's may have changed the rigging since it was last said.
  [[nodiscard]] std::optional<Reason> may_be_other(int64_t time_us) const;
  /// Words for gear in the line that does not count, or may not, one a piece.
  [[nodiscard]] std::vector<std::string> gear_not_counting() const;
  /// Least rating of the points in use, N.
  [[nodiscard]] Interval point_rating(int64_t time_us, const VehicleItem* vehicle) const;

 private:
  void read_tiedowns();
  void read_rigging();
  [[nodiscard]] Interval stated_line_rating(int64_t time_us, const TruckItem* truck) const;

  const JobLines& lines_;
  const RegisterBook& book_;
  std::vector<Strength> tiedowns_, rigging_;
  std::vector<RiggingUse> uses_;
};

}  // namespace fairlead::judge
