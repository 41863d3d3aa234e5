// What the steps of JobLines hand to each other.
#pragma once

#include "daemon/judge/job_lines.h"

namespace fairlead::judge {

constexpr int64_t kBurstUs = 5'000'000;  // Three operator marks within this are one burst.
constexpr size_t kBurstMarks = 3;

/// A line that is believed, with its corrected time.
struct JobLines::Raw {
  const ReadLine* line = nullptr;
  Stamp stamp;
};

}  // namespace fairlead::judge
