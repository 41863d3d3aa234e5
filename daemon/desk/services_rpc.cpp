#include "daemon/desk/services_rpc.h"

#include <grpcpp/impl/service_type.h>

#include "daemon/desk/claims_rpc.h"
#include "daemon/desk/devices_rpc.h"
#include "daemon/desk/feed_rpc.h"
#include "daemon/desk/jobs_rpc.h"
#include "daemon/desk/ledger_rpc.h"
#include "daemon/desk/register_rpc.h"
#include "daemon/desk/retention_rpc.h"
#include "daemon/desk/sheets_rpc.h"
#include "daemon/desk/summaries_rpc.h"

namespace fairlead::desk {

std::vector<std::unique_ptr<grpc::Service>> make_desk_services(Desk& desk, Pool& pool,
                                                               Deliveries* deliveries) {
  std::vector<std::unique_ptr<grpc::Service>> services;
  services.push_back(make_feed_service([&desk] { return &desk.import; }, pool));
  services.push_back(make_jobs_service(desk, pool));
  services.push_back(make_register_service(desk, pool));
  services.push_back(make_device_service(desk, pool));
  services.push_back(make_ledger_service(desk, pool));
  services.push_back(make_claims_service(desk, pool));
  services.push_back(make_summaries_service(desk, pool, deliveries));
  services.push_back(make_sheets_service(desk, pool));
  services.push_back(make_retention_service(desk, pool));
  return services;
}

}  // namespace fairlead::desk
