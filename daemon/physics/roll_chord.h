// How long the true chord is of which noise shows one of length `seen`, with s.d. `sd` per axis.
// A noisy vector is longer than the true one (Rice 1945): seen^2 is sd^2 + length^2 across. So the
// length is about sqrt(seen^2 - sd^2). Where noise is as large as the chord, a normal distribution
// around that has too short an upper end, and Rice's likelihood (all lengths alike before) too long
// a one for chords of about 2 sd; a third of the way from the one to the other covers best
// (docs/roll.md).
//
// Units: as the arguments. Threads: pure function. Bits: + - * / sqrt.
#pragma once

namespace fairlead::physics {

/// As a normal distribution; `corrected` is the likeliest length, which is 0 where all is noise.
struct ChordLength {
  double mean, sd, corrected = 0.0;
};
[[nodiscard]] ChordLength chord_length(double seen, double sd);

}  // namespace fairlead::physics
