#include "daemon/desk/sheets_rpc.h"

#include "daemon/desk/sheet.h"
#include "fairlead/v1/sheets_service.grpc.pb.h"

namespace fairlead::desk {
namespace {

class Service : public v1::SheetsService::CallbackService {
 public:
  Service(Desk& desk, Pool& pool) : desk_(desk), pool_(pool) {}

  grpc::ServerUnaryReactor* WriteSheet(grpc::CallbackServerContext* context,
                                       const v1::WriteSheetRequest* request,
                                       v1::WriteSheetResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return write_sheet(desk_, asked); });
  }

 private:
  Desk& desk_;
  Pool& pool_;
};

}  // namespace

std::unique_ptr<grpc::Service> make_sheets_service(Desk& desk, Pool& pool) {
  return std::make_unique<Service>(desk, pool);
}

}  // namespace fairlead::desk
