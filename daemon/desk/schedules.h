// What the owner asks of the schedules: what goes out, to whom, how it stands; yes or no.
//
// Threads: as Desk. `deliveries` null: the settings name no schedule. Errors: kNotFound where the
// settings name no schedule (of that name).
#pragma once

#include "daemon/desk/desk.h"
#include "fairlead/v1/summaries_service.pb.h"

namespace fairlead::desk {

class Deliveries;

[[nodiscard]] Result<v1::ListSchedulesResponse> list_schedules(const Deliveries* deliveries);
[[nodiscard]] Result<v1::DecideScheduleResponse> decide_schedule(
    Deliveries* deliveries, const v1::DecideScheduleRequest& request);
/// write_summary, or the preview of a schedule where the request names one.
[[nodiscard]] Result<v1::WriteSummaryResponse> write_asked_summary(
    Desk& desk, const Deliveries* deliveries, const v1::WriteSummaryRequest& request);

}  // namespace fairlead::desk
