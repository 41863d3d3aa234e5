// A job's bundle: everything a stranger needs to check the job without this base.
//
// It holds the opener's chain from JOB_OPEN to the job's last entry (entries of other jobs as bare
// headers), foreign entries under the job, the admin chain from its beginning, the service chain
// around the job's findings, the files in force, attachments the job's lines name, consistency
// proofs for every head a device had seen, and the seal. Threads: as Desk.
#pragma once

#include <string>

#include "daemon/desk/desk.h"

namespace fairlead::desk {

struct BundleOptions {
  /// The report's JSON, put into section FILES and named by META; empty = no report.
  std::string report_json;
  /// The head that the report names, its note; empty = none.
  std::string report_head;
};

/// Signs a fresh head over everything in it first. Errors: kNotFound, kUnavailable while the base
/// may not sign, kIo.
[[nodiscard]] Result<std::string> export_bundle(Desk& desk, const record::Id16& job,
                                                const BundleOptions& options = {});

}  // namespace fairlead::desk
