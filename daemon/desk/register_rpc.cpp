#include "daemon/desk/register_rpc.h"

#include "daemon/desk/enrol.h"
#include "fairlead/v1/register_service.grpc.pb.h"

namespace fairlead::desk {
namespace {

using grpc::CallbackServerContext;
using grpc::ServerUnaryReactor;

class Service : public v1::RegisterService::CallbackService {
 public:
  Service(Desk& desk, Pool& pool) : desk_(desk), pool_(pool) {}

  ServerUnaryReactor* PutFile(CallbackServerContext* context, const v1::PutFileRequest* request,
                              v1::PutFileResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return put_file(desk_, asked); });
  }
  ServerUnaryReactor* ListFiles(CallbackServerContext* context, const v1::ListFilesRequest* request,
                                v1::ListFilesResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return list_files(desk_, asked); });
  }
  ServerUnaryReactor* GetFile(CallbackServerContext* context, const v1::GetFileRequest* request,
                              v1::GetFileResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return get_file(desk_, asked); });
  }
  ServerUnaryReactor* FileHistory(CallbackServerContext* context,
                                  const v1::FileHistoryRequest* request,
                                  v1::FileHistoryResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return file_history(desk_, asked); });
  }
  ServerUnaryReactor* EnrolTruck(CallbackServerContext* context,
                                 const v1::EnrolTruckRequest* request,
                                 v1::EnrolTruckResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return enrol_truck(desk_, asked); });
  }
  ServerUnaryReactor* RevokeTruck(CallbackServerContext* context,
                                  const v1::RevokeTruckRequest* request,
                                  v1::RevokeTruckResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return revoke_truck(desk_, asked); });
  }
  ServerUnaryReactor* PutRoster(CallbackServerContext* context, const v1::PutRosterRequest* request,
                                v1::PutRosterResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return put_roster(desk_, asked); });
  }
  ServerUnaryReactor* ListTrucks(CallbackServerContext* context,
                                 const v1::ListTrucksRequest* request,
                                 v1::ListTrucksResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return list_trucks(desk_, asked); });
  }

 private:
  Desk& desk_;
  Pool& pool_;
};

}  // namespace

std::unique_ptr<grpc::Service> make_register_service(Desk& desk, Pool& pool) {
  return std::make_unique<Service>(desk, pool);
}

}  // namespace fairlead::desk
