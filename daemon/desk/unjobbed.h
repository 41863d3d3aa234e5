// Work sensed without a job, for lists, summaries and reports.
//
// Threads: as Desk.
#pragma once

#include "daemon/desk/desk.h"
#include "fairlead/v1/jobs_service.pb.h"

namespace fairlead::desk {

[[nodiscard]] Result<v1::ListUnjobbedResponse> list_unjobbed(
    Desk& desk, const v1::ListUnjobbedRequest& request);

/// "line pull up to 8.9 kN, rope moved 7.9 m".
[[nodiscard]] std::string work_words(const watch::UnjobbedWork& work);

}  // namespace fairlead::desk
