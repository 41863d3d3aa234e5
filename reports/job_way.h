// How far a job's car was carried and how long the winch worked, from the instruments alone.
//
// Kilometres are the sum of a receiver's own speeds over time, not of distances between fixes,
// which overstates (Ranacher et al. 2016, IJGIS). A pull counts as winching from 300 N until it is
// under 150 N, as in the judge's line.pulling. Where samples are further apart than 10 s nothing
// is counted, and the time without is told.
//
// Threads: pure function. Units: km, microseconds.
#pragma once

#include <optional>

#include "reports/claim/facts.h"

namespace fairlead::reports {

struct JobWay {
  std::optional<double> loaded_km;    // Absent: no fix while the car was aboard.
  std::optional<int64_t> winched_us;  // Absent: no reading of the line's pull.
  int64_t unseen_us = 0;              // Aboard and on the road without fixes.
};

[[nodiscard]] JobWay job_way(const JobRecord& record, const JobFacts& facts);

}  // namespace fairlead::reports
