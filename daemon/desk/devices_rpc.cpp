#include "daemon/desk/devices_rpc.h"

#include "fairlead/v1/device_service.grpc.pb.h"

namespace fairlead::desk {
namespace {

using grpc::CallbackServerContext;
using grpc::ServerUnaryReactor;

class Service : public v1::DeviceService::CallbackService {
 public:
  Service(Desk& desk, Pool& pool) : desk_(desk), pool_(pool) {}

  ServerUnaryReactor* ListDevices(CallbackServerContext* context,
                                  const v1::ListDevicesRequest* request,
                                  v1::ListDevicesResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return list_devices(desk_, asked); });
  }
  ServerUnaryReactor* DecideCopy(CallbackServerContext* context,
                                 const v1::DecideCopyRequest* request,
                                 v1::DecideCopyResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return decide_copy(desk_, asked); });
  }

 private:
  Desk& desk_;
  Pool& pool_;
};

}  // namespace

std::unique_ptr<grpc::Service> make_device_service(Desk& desk, Pool& pool) {
  return std::make_unique<Service>(desk, pool);
}

}  // namespace fairlead::desk
