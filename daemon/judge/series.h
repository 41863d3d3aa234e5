// A quantity over time as whole numbers: spans in which it is known, each with its noise.
//
// Threads: values only.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/judge/timeline.h"

namespace fairlead::judge {

/// Known value over [from, to), in the quantity's stored unit. lo and hi are exact bounds (equal
/// to value for a reading), the s.d. comes on top.
struct Piece {
  int64_t from_us = 0, to_us = 0;
  int64_t value = 0, lo = 0, hi = 0;
  int64_t sd_milli = 0;  // Thousandths of the stored unit.
  int line = kNoLine;
};

struct Hole {
  int64_t from_us, to_us;
  Reason reason;
};

struct Series;

/// Walks a series for the spans of [from, ...) in which nothing is known. What it has found up to
/// an instant stays found when more readings come after it.
class HoleWalk {
 public:
  HoleWalk() = default;
  explicit HoleWalk(int64_t from_us) : passed_us_(from_us), known_to_us_(from_us) {}
  /// Past all pieces that end by `until_us` and begin before `to_us`.
  void pass(const Series& series, int64_t to_us, int64_t until_us);
  /// All holes of [from, to).
  [[nodiscard]] std::vector<Hole> holes(const Series& series, int64_t to_us) const;

 private:
  int64_t passed_us_ = 0, known_to_us_ = 0;
  std::vector<Hole> found_;
};

struct Series {
  std::vector<Piece> pieces;  // Sorted, not overlapping.
  int64_t tau_us = 1'000'000;
  bool sd_of_mean = false;                // The s.d. is that of a bin's mean already.
  bool named = false;                     // Some line or file speaks of it.
  Reason after_last = Reason::kCutShort;  // Why nothing is known after the last piece.
  std::string origin;                     // What it was read from, for sentences.

  [[nodiscard]] const Piece* at(int64_t time_us) const;
  /// Pieces that end after `from_us` and begin before `to_us`.
  [[nodiscard]] std::span<const Piece> within(int64_t from_us, int64_t to_us) const;
  /// Spans of [from, to) in which the value is unknown.
  [[nodiscard]] std::vector<Hole> holes(int64_t from_us, int64_t to_us) const;
};

/// best +- 1.645 s around exact bounds, outward; an end that does not exist is nullopt.
struct Interval {
  std::optional<int64_t> lo, best, hi;
};
[[nodiscard]] Interval interval_of(const Piece& piece);

}  // namespace fairlead::judge
