// A base that lost its disk after a job: an older copy was put in, a new generation of the log was
// declared, and the truck sent the job again. Of some entries nobody holds the body any more,
// because the truck had freed them; the truck says which.
#pragma once

#include "tests/unit/verify/small_job.h"

namespace fairlead {

struct LaterGeneration {
  LaterGeneration();

  /// The job's bundle: the lost entries shown without their body, the truck's word about them with
  /// its body.
  [[nodiscard]] record::Bundle bundle();

  SmallJob job;
  uint64_t seam_leaf = 0, gap_leaf = 0;
  /// Entries whose bodies are lost: the note and the strip.
  std::vector<uint64_t> lost;
};

}  // namespace fairlead
