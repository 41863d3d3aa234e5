#include "daemon/desk/summaries_rpc.h"

#include "daemon/desk/schedules.h"
#include "fairlead/v1/summaries_service.grpc.pb.h"

namespace fairlead::desk {
namespace {

class Service : public v1::SummariesService::CallbackService {
 public:
  Service(Desk& desk, Pool& pool, Deliveries* deliveries)
      : desk_(desk), pool_(pool), deliveries_(deliveries) {}

  grpc::ServerUnaryReactor* WriteSummary(grpc::CallbackServerContext* context,
                                         const v1::WriteSummaryRequest* request,
                                         v1::WriteSummaryResponse* response) override {
    return answer(context, pool_, request, response, [this](const auto& asked) {
      return write_asked_summary(desk_, deliveries_, asked);
    });
  }
  grpc::ServerUnaryReactor* ListSummaries(grpc::CallbackServerContext* context,
                                          const v1::ListSummariesRequest* request,
                                          v1::ListSummariesResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return list_summaries(desk_, asked); });
  }

  grpc::ServerUnaryReactor* GetProgress(grpc::CallbackServerContext* context,
                                        const v1::GetProgressRequest* request,
                                        v1::GetProgressResponse* response) override {
    return answer(context, pool_, request, response, [this](const auto&) {
      return Result<v1::GetProgressResponse>(summary_progress(desk_));
    });
  }

  grpc::ServerUnaryReactor* ListSchedules(grpc::CallbackServerContext* context,
                                          const v1::ListSchedulesRequest* request,
                                          v1::ListSchedulesResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto&) { return list_schedules(deliveries_); });
  }
  grpc::ServerUnaryReactor* DecideSchedule(grpc::CallbackServerContext* context,
                                           const v1::DecideScheduleRequest* request,
                                           v1::DecideScheduleResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return decide_schedule(deliveries_, asked); });
  }

 private:
  Desk& desk_;
  Pool& pool_;
  Deliveries* deliveries_;
};

}  // namespace

std::unique_ptr<grpc::Service> make_summaries_service(Desk& desk, Pool& pool,
                                                      Deliveries* deliveries) {
  return std::make_unique<Service>(desk, pool, deliveries);
}

}  // namespace fairlead::desk
