#include "daemon/desk/summaries_rpc.h"

#include "fairlead/v1/summaries_service.grpc.pb.h"

namespace fairlead::desk {
namespace {

class Service : public v1::SummariesService::CallbackService {
 public:
  Service(Desk& desk, Pool& pool) : desk_(desk), pool_(pool) {}

  grpc::ServerUnaryReactor* WriteSummary(grpc::CallbackServerContext* context,
                                         const v1::WriteSummaryRequest* request,
                                         v1::WriteSummaryResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return write_summary(desk_, asked); });
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

 private:
  Desk& desk_;
  Pool& pool_;
};

}  // namespace

std::unique_ptr<grpc::Service> make_summaries_service(Desk& desk, Pool& pool) {
  return std::make_unique<Service>(desk, pool);
}

}  // namespace fairlead::desk
