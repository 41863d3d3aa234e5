// A position that leaps: further from the last one than the vehicle can have come in the time
// between. Reflections near walls and bridges do that, and so does a receiver that starts anew.
//
// How far it can have come: epoch by epoch the greater of both speeds + 2 m/s, times the time
// between; 60 m/s where nothing was heard for more than 3 s; and four standard deviations of both
// positions together. The numbers are choices of ours, wide of what a truck or a car on a rope
// does. The receiver's own time counts while it runs, so that reports that come in a bunch are no
// leap.
//
// Five fixes in a row that agree with each other elsewhere are believed: then the earlier place was
// the wrong one, or the truck was carried while nobody listened.
//
// Threads: one at a time.
#pragma once

#include <cstdint>
#include <optional>

#include "plugins/gps/epoch.h"

namespace fairlead::gps {

class JumpWatch {
 public:
  enum class Verdict {
    kSteady,
    kLeapt,    // Not to be believed yet.
    kSettled,  // Believed from here on: it stays where it leapt to.
  };
  Verdict see(const Epoch& epoch);
  /// A new connection: nothing before it counts.
  void forget();

 private:
  Verdict believe(const Epoch& epoch, Verdict verdict);

  std::optional<Epoch> good_;  // Last one believed.
  std::optional<Epoch> last_;  // Last one, believed or not.
  double reach_m_ = 0;         // From good_ to last_, by the speeds between.
  int run_ = 0;                // Leapt ones that agree with each other, up to last_.
};

}  // namespace fairlead::gps
