// A job judged under files other than those it pins: never recorded, always headed as such, with
// what comes out otherwise.
//
// Threads: as Desk.
#pragma once

#include "daemon/desk/desk.h"
#include "daemon/watch/job_record.h"
#include "fairlead/v1/jobs_service.pb.h"

namespace fairlead::desk {

using OtherFiles = google::protobuf::RepeatedPtrField<v1::JudgeJobRequest::File>;

/// Procedures among `files` stand in for all that the job pins, register files for the pinned one
/// of the same name or beside them. Errors: kBadInput with the files' problems.
[[nodiscard]] Result<v1::JudgeJobResponse> judge_under(Desk& desk, const watch::JobRecord& job,
                                                       const OtherFiles& files);

[[nodiscard]] Result<v1::JudgeJobResponse> judge_job(Desk& desk,
                                                     const v1::JudgeJobRequest& request);

}  // namespace fairlead::desk
