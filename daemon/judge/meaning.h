// The number of what rules mean. Every finding carries the one it was judged under; a change of
// what any form, fact or quantity says of the same lines raises it, so that a finding on record and
// one judged anew can be told apart from a record that was altered.
//
// | meaning | since | what changed |
// |---|---|---|
// | 1 | 2026-11-25 | the twelve forms |
// | 2 | 2026-11-29 | gear out of date, out of service or with a voiding defect, and what hangs on
//   such an anchor, never counts; what a gap may hide (an `unless`, an edge, a phase's end, a
//   desk's word, other rigging) accuses and acquits nobody; readings of a clock that cannot be
//   compared with the phase's are clock_doubt; margins in whole stored units, `under` excludes 0 |
// | 3 | 2026-11-29 | an anchor that a gap may hide wants its items too; an F.off whose F may never
//   have been on accuses nobody; what a person said and then holds (legs' angle, tilt, distance) is
//   unknown after a lost line of a person's; a camera's lost line may be any picture; what a
//   contradicted line hides of straps and rigging is sources_disagree |
// | 4 | 2026-11-30 | a tag's speed is at most the length of its velocity where it clears, the
//   component along the way where it accuses; its s.d. is what is stated, or what its readings at
//   rest scatter by where that is more; a way by the tag is one of a car whose stop heads for 0 |
// | 5 | 2026-11-30 | a change that a lost line, or a step back of a clock, follows within 500 ms
//   may be none; what was in force is sure only where other clocks leave no edge on the other side;
//   a stay that a gap may have ended accuses only up to the gap; `unless` frees only what was not
//   decided before it; an `undo` can be taken back, and takes back no reading of an instrument;
//   gear at every point rigged is in the line until that point is named again, a piece that nobody
//   rated may bear nothing, and a date that runs out is no word about the rigging |
// | 6 | 2026-11-30 | a clock's offset counts to the nearest microsecond; a strap at a wheel and one
//   at a point of the same name are two; clamps of which nothing is known but a lost line may have
//   been on; a rope that has not yet gone beyond its noise has no way to turn back from; a line
//   that came twice is in conflict with another of its number as one that came once is; a lost
//   line may be one more item wherever more are wanted than seen, and none after the job's end;
//   nobody's word at the opening is no gap in which F may have been on, and an order whose second
//   event never came is not asked for; a re-check freed in time is over, and one outside before a
//   gap is not freed by what hides in it; too_close comes before later reasons within a stay and
//   over stays |
// | 7 | 2026-11-30 | a winch line, or gear in it, that the register does not rate may be the
//   weakest: line.rating has no lower end; an order whose second event a clock hides may have been
//   earlier is clock_doubt without margins; a way by the tag takes a finer grid of Doppler errors,
//   and every fix in full for the noise; what a gap hides may also come in its last instant,
//   where what was so before it is so again; a stay first seen after a gap may have been ended in
//   it; of a stay told by two clocks each end they leave open counts, and what they leave open is
//   clock_doubt; an `unless` that is the rule's own event may hide, too; a check in the instant of
//   the truck's start is one at the start; a limit that is no whole stored unit accuses no whole
//   figure inside it, and ratings in pounds count to the gram outward; states together while the
//   rule's phase may have ended unseen are no_data, as the gap is |
//
// A program judges by its own meaning only: kernels of older ones are in the history of the source.
// What was found under an older one stands on record, is shown with its number, and is judged by a
// program of that number.
#pragma once

#include <cstdint>

namespace fairlead::judge {

constexpr uint32_t kMeaning = 7;

}  // namespace fairlead::judge
