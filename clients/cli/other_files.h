// Files that a job is to be judged under instead of its own, read for a request.
#pragma once

#include <string>
#include <vector>

#include "daemon/base/result.h"
#include "fairlead/v1/jobs_service.pb.h"

namespace fairlead::cli {

/// `procedures`: files, or ids of shipped procedures. Errors: kNotFound naming what is missing.
[[nodiscard]] Result<std::vector<v1::JudgeJobRequest::File>> other_files(
    const std::vector<std::string>& procedures, const std::vector<std::string>& registers);

}  // namespace fairlead::cli
