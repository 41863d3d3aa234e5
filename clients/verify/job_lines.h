// The lines and files a job is judged on, taken from the bundle's proven entries.
//
// Threads: pure functions.
#pragma once

#include <string>
#include <vector>

#include "clients/verify/case.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::verifier {

struct JobLines {
  std::vector<v1::Observation> lines;  // In the order of the chain.
  std::string job;                     // The job's name in the lines.
  bool whole = true;                   // False when a body was erased.
  std::string trouble;                 // A signed body that cannot be read, in words.
};

/// Lines of all entries record::is_judged_in names, quarantined ones left out.
[[nodiscard]] JobLines job_lines(const Case& c);

/// Lines other devices put under the job (the desk's pictures): shown with it, never judged.
[[nodiscard]] std::vector<v1::Observation> foreign_lines(const Case& c);

/// What was in force when the job was opened; empty when its JOB_OPEN is erased or not bound.
[[nodiscard]] std::vector<v1::Pin> job_pins(const Case& c);

}  // namespace fairlead::verifier
