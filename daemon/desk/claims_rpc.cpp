#include "daemon/desk/claims_rpc.h"

#include "daemon/desk/claim_steps.h"
#include "fairlead/v1/claims_service.grpc.pb.h"

namespace fairlead::desk {
namespace {

class Service : public v1::ClaimsService::CallbackService {
 public:
  Service(Desk& desk, Pool& pool) : desk_(desk), pool_(pool) {}

  grpc::ServerUnaryReactor* OpenClaim(grpc::CallbackServerContext* context,
                                      const v1::OpenClaimRequest* request,
                                      v1::OpenClaimResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return open_claim(desk_, asked); });
  }
  grpc::ServerUnaryReactor* GetClaim(grpc::CallbackServerContext* context,
                                     const v1::GetClaimRequest* request,
                                     v1::GetClaimResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return get_claim(desk_, asked); });
  }
  grpc::ServerUnaryReactor* ListClaims(grpc::CallbackServerContext* context,
                                       const v1::ListClaimsRequest* request,
                                       v1::ListClaimsResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return list_claims(desk_, asked); });
  }
  grpc::ServerUnaryReactor* WriteClaimReport(grpc::CallbackServerContext* context,
                                             const v1::WriteClaimReportRequest* request,
                                             v1::WriteClaimReportResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return write_claim_report(desk_, asked); });
  }

  grpc::ServerUnaryReactor* FindClaimJobs(grpc::CallbackServerContext* context,
                                          const v1::FindClaimJobsRequest* request,
                                          v1::FindClaimJobsResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return find_claim_jobs(desk_, asked); });
  }
  grpc::ServerUnaryReactor* AddClaimStep(grpc::CallbackServerContext* context,
                                         const v1::AddClaimStepRequest* request,
                                         v1::AddClaimStepResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return add_claim_step(desk_, asked); });
  }
  grpc::ServerUnaryReactor* ExportClaim(grpc::CallbackServerContext* context,
                                        const v1::ExportClaimRequest* request,
                                        v1::ExportClaimResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return export_claim(desk_, asked); });
  }

 private:
  Desk& desk_;
  Pool& pool_;
};

}  // namespace

std::unique_ptr<grpc::Service> make_claims_service(Desk& desk, Pool& pool) {
  return std::make_unique<Service>(desk, pool);
}

}  // namespace fairlead::desk
