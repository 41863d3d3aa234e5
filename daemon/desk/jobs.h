// Jobs service: open at the desk, list, show, attach files.
//
// Threads: as Desk.
#pragma once

#include "daemon/desk/desk.h"
#include "fairlead/v1/jobs_service.pb.h"

namespace fairlead::desk {

/// The job that `text` means: its id, its name in fed files, the owner's number, or the first
/// characters of an id that only one job has. Errors: kNotFound, kBadInput when several fit.
[[nodiscard]] Result<record::Id16> find_job(const Desk& desk, const std::string& text);

/// A view as the wire shows it.
[[nodiscard]] v1::Job job_message(const Desk& desk, const watch::JobView& view);

[[nodiscard]] Result<v1::OpenJobResponse> open_job(Desk& desk, const v1::OpenJobRequest& request);
[[nodiscard]] Result<v1::ListJobsResponse> list_jobs(Desk& desk,
                                                     const v1::ListJobsRequest& request);
[[nodiscard]] Result<v1::GetJobResponse> get_job(Desk& desk, const v1::GetJobRequest& request);
/// Stores the bytes. Where no line of the job names them yet, the desk's own photo, film or note
/// goes on record with them.
[[nodiscard]] Result<v1::AttachFileResponse> attach_file(Desk& desk,
                                                         const v1::AttachFileRequest& request);

}  // namespace fairlead::desk
