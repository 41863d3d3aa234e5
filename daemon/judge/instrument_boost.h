// What volts and amps at the clamps tell of a jump start. One voltmeter sees that both clamps
// bite, or that one came off, never which of the two: their order is for jaw contacts or a word.
//
// | fact | on | off |
// |---|---|---|
// | clamp.connected | 3 V or more either way for 1 s | under 1 V for 1 s |
// | clamp.reversed | -1 V or lower for 200 ms | above -0.5 V for 1 s |
// | clamp.shorted | 50 A or more with under 2 V for 200 ms | under 10 A, or 3 V or more, for 1 s |
// | clamp.surge (the car may be waking) | 20 A or more into it for 1 s | under 10 A for 1 s |
// | clamp.recovered (12 V side is fed) | 13.2 V or more for 5 s | under 12.8 V for 5 s |
// | source.class:12, :24, :48 | 9 to 16, 20 to 32, 36 to 60 V for 1 s | outside for 1 s |
//
// The volts and amperes stand in daemon/physics/boosting_class.h with their sources, beside the
// hints they are tied to; the times are common practice, no source.
// A car's own battery shows as 12 V, so a class speaks of the source once it is on.
//
// Threads: pure functions.
#pragma once

#include <string_view>

#include "daemon/judge/instrument_lasting.h"
#include "daemon/judge/job_lines.h"
#include "daemon/judge/series.h"
#include "daemon/judge/timeline.h"

namespace fairlead::judge {

/// Whether an instrument alone tells this fact (the names of the table).
[[nodiscard]] bool is_boost_reading(std::string_view fact);
/// The fact over time; unknown where the instrument it needs says nothing.
[[nodiscard]] Timeline boost_reading(std::string_view fact, const Series& volts, const Series& amps,
                                     const JobLines& lines, Begun* begun = nullptr);

}  // namespace fairlead::judge
