#include "daemon/desk/schedules.h"

#include "daemon/desk/deliveries.h"
#include "daemon/desk/summaries.h"

namespace fairlead::desk {
namespace {

Error none() {
  return {Code::kNotFound, "the settings file has no [[schedule]]; add one and restart the base"};
}

}  // namespace

Result<v1::ListSchedulesResponse> list_schedules(const Deliveries* deliveries) {
  if (deliveries == nullptr) return v1::ListSchedulesResponse{};
  return deliveries->list();
}

Result<v1::DecideScheduleResponse> decide_schedule(Deliveries* deliveries,
                                                   const v1::DecideScheduleRequest& request) {
  if (deliveries == nullptr) return std::unexpected(none());
  auto decided = deliveries->decide(request.name(), request.approve());
  if (!decided) return std::unexpected(decided.error());
  v1::DecideScheduleResponse response;
  *response.mutable_schedule() = std::move(*decided);
  return response;
}

Result<v1::WriteSummaryResponse> write_asked_summary(Desk& desk, const Deliveries* deliveries,
                                                     const v1::WriteSummaryRequest& request) {
  if (request.schedule().empty()) return write_summary(desk, request);
  if (deliveries == nullptr) return std::unexpected(none());
  if (!request.preview())
    return fail(Code::kBadInput, "schedule: only a preview is asked for by hand");
  const auto asked = deliveries->preview_of(request.schedule());
  if (!asked) return std::unexpected(asked.error());
  SummaryFor whom;
  auto recipients = deliveries->recipients_of(request.schedule());
  if (!recipients) return std::unexpected(recipients.error());
  whom.recipients = std::move(*recipients);
  return write_summary(desk, *asked, whom);
}

}  // namespace fairlead::desk
