// A tiedown as it is put together, and the weakest part of it.
//
// 49 CFR 393.108(a): the working load limit of an assembly is the lowest of all its components,
// the tensioner included, or that of the anchor points, whichever is less.
//
// Threads: values and pure functions. Units: ratings in the unit the load's weight is given in, kg
// or lb, one for all of a load (the two printed columns are no conversions of each other).
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/physics/interval.h"

namespace fairlead::physics {

enum class WeightUnit { kKg, kLb };
[[nodiscard]] constexpr std::string_view word_of(WeightUnit unit) {
  return unit == WeightUnit::kKg ? "kg" : "lb";
}
inline constexpr double kKgPerLb = 0.45359237;       // NIST SP 811, exact.
inline constexpr double kStandardGravity = 9.80665;  // m/s2, SI Brochure 9th ed.
/// Newtons that a rating of 1 stands for.
[[nodiscard]] constexpr double newtons_per(WeightUnit unit) {
  return unit == WeightUnit::kKg ? kStandardGravity : kStandardGravity * kKgPerLb;
}

/// Rating of a part whose tag nobody can read.
inline constexpr Interval kUnread{0, kNoBound};

struct Part {
  std::string name;
  Interval wll = kUnread;
  /// Deviated: out of date, out of service or void, so it never counts. Unproven: it may not.
  Verdict counts = Verdict::kMet;
  std::string why;                        // Why it does not, or may not, count.
  std::optional<Interval> breaking = {};  // Maker's breaking strength, where a file gives it.
};

/// 49 CFR 393.106(d): how a tiedown runs from the vehicle's anchor.
enum class Path {
  kDirect,    // To an attachment point on the article.
  kSameSide,  // Through, over or around the article to an anchor on the same side.
  kAcross,    // Through, over or around the article to an anchor on the other side.
};

/// One straight length of a tiedown, seen from the article: where it pulls.
struct Leg {
  Interval to_deck_deg;   // 0 along the deck, 90 straight down.
  Interval to_front_deg;  // In plan: 0 to the front, 90 to the left, 180 to the rear, -90 right.
};

struct Tiedown {
  std::string name;
  std::vector<Part> parts;     // Strap or chain, tensioner, hooks, links.
  std::optional<Part> anchor;  // Absent: no file names it, so it does not limit.
  Path path = Path::kDirect;
  std::vector<Leg> legs;  // Only for what depends on directions.
};

struct Weakest {
  Interval wll = kUnread;
  Verdict counts = Verdict::kMet;
  std::string part;   // Which part decides the lower bound.
  std::string words;  // What voids it, or is not known of it.
};

/// Breaking strength of the weakest part: never below a part's working load limit, and unbounded
/// above where no file gives it. 0 where something of it never counts.
[[nodiscard]] Interval breaking_strength(const Tiedown& tiedown);

/// Not kMet: something of it is void (then its limit is 0), or may be (then 0 is possible).
[[nodiscard]] Weakest weakest_part(const Tiedown& tiedown);

}  // namespace fairlead::physics
