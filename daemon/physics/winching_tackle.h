// Blocks and lines: what the winch, each line part, the blocks and the anchors carry.
//
// Tackle resistance: 10 % of the load's resistance for each sheave (Army and a recovery guide, the
// former from memory). Line pull at the winch: (load + tackle) / parts; an anchor carries that
// times the parts that end or turn on it (from memory).
//
// Threads: pure functions. Units: N (any one unit of force works); degrees.
#pragma once

#include "daemon/physics/check.h"

namespace fairlead::physics {

inline constexpr double kTackleSharePerSheave = 0.1;

struct Tackle {
  int parts = 1;            // Line parts that pull on the load: the mechanical advantage.
  int sheaves = 0;          // All blocks the line runs over, those that only turn it included.
  int parts_at_anchor = 1;  // Parts that end or turn on the anchor asked about.
};

struct TackleLoads {
  Interval tackle_n;  // Lost in the sheaves.
  Interval line_n;    // In every part of the line, the winch's included.
  Interval anchor_n;  // Dead-line or block anchor.
};
/// Errors: kBadInput for parts outside 1 to 32, sheaves outside 0 to 32, resistance negative, NaN
/// or unbounded.
[[nodiscard]] Result<TackleLoads> tackle_loads(Interval resistance_n, const Tackle& tackle);

/// Least whole parts so that the winch's available pull suffices, without the tackle's own loss:
/// pull / available, rounded up. Unbounded where nothing may be available.
[[nodiscard]] Result<Interval> parts_needed(Interval pull_n, Interval available_n);

/// Pull in each of two lines that meet on the load under that included angle:
/// load / (2 cos(angle / 2)); at 180 degrees unbounded.
[[nodiscard]] Result<Interval> two_line_pull_n(Interval load_n, Interval included_deg);

/// Load on a block that turns a line by an included angle (0: back on itself): 2 T cos(angle / 2).
[[nodiscard]] Result<Interval> block_load_n(Interval line_n, Interval included_deg);

}  // namespace fairlead::physics
