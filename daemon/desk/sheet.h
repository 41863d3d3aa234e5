// The job sheet of one job.
//
// Threads: as Desk.
#pragma once

#include "daemon/desk/desk.h"
#include "fairlead/v1/sheets_service.pb.h"

namespace fairlead::desk {

/// Files go to DATA/reports/sheet-JOB/ and into the answer; where it is issued to somebody,
/// REPORT_ISSUED holds their SHA-256. Errors: kNotFound.
[[nodiscard]] Result<v1::WriteSheetResponse> write_sheet(Desk& desk,
                                                         const v1::WriteSheetRequest& request);

}  // namespace fairlead::desk
