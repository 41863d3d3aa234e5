#include "daemon/desk/retention_rpc.h"

#include "daemon/desk/retention_desk.h"
#include "fairlead/v1/retention_service.grpc.pb.h"

namespace fairlead::desk {
namespace {

using grpc::CallbackServerContext;
using grpc::ServerUnaryReactor;

class Service : public v1::RetentionService::CallbackService {
 public:
  Service(Desk& desk, Pool& pool) : desk_(desk), pool_(pool) {}

  ServerUnaryReactor* RunRetention(CallbackServerContext* context,
                                   const v1::RunRetentionRequest* request,
                                   v1::RunRetentionResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return run_retention(desk_, asked); });
  }
  ServerUnaryReactor* EraseOnRequest(CallbackServerContext* context,
                                     const v1::EraseOnRequestRequest* request,
                                     v1::EraseOnRequestResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return erase_on_request(desk_, asked); });
  }
  ServerUnaryReactor* ListHolds(CallbackServerContext* context, const v1::ListHoldsRequest* request,
                                v1::ListHoldsResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return list_holds(desk_, asked); });
  }
  ServerUnaryReactor* AddHold(CallbackServerContext* context, const v1::AddHoldRequest* request,
                              v1::AddHoldResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return add_hold(desk_, asked); });
  }
  ServerUnaryReactor* EndHold(CallbackServerContext* context, const v1::EndHoldRequest* request,
                              v1::EndHoldResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return end_hold(desk_, asked); });
  }

 private:
  Desk& desk_;
  Pool& pool_;
};

}  // namespace

std::unique_ptr<grpc::Service> make_retention_service(Desk& desk, Pool& pool) {
  return std::make_unique<Service>(desk, pool);
}

}  // namespace fairlead::desk
