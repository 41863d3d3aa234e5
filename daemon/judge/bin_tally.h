// What judging bins one after another comes to, and how far it was taken over one stay of a phase.
//
// Threads: values only.
#pragma once

#include <array>
#include <optional>
#include <set>

#include "daemon/judge/bins.h"
#include "daemon/judge/forms.h"

namespace fairlead::judge {

struct BinTally {
  Range margin, value;           // The worst of each end; the value of the worst bin.
  std::optional<int64_t> limit;  // In force at the worst bin.
  std::optional<Bin> worst;
  std::set<Reason> doubts;
  bool any = false;
  bool lo_known = true;         // False: somewhere what bounds the limit from below is unknown.
  bool unsure_outside = false;  // A bin is outside that may not lie in the phase.
  bool too_close = false;
  bool scatters_more = false;  // A bin's own noise is less than the tag's at rest.

  /// As if the bins of `later` had come after these.
  void add(const BinTally& later);
};

/// One stay, as far as nothing that still comes in order can change it.
struct TalliedStay {
  int64_t until_us = kBeginning;
  std::array<BinTally, 2> grids;
  std::array<int64_t, 2> starts{};  // Where each grid goes on.
  HoleWalk holes;
};

}  // namespace fairlead::judge
