#include "daemon/desk/ledger_rpc.h"

#include "daemon/desk/bundle.h"
#include "daemon/desk/jobs.h"
#include "daemon/desk/stream_rpc.h"
#include "fairlead/v1/ledger_service.grpc.pb.h"

namespace fairlead::desk {
namespace {

using grpc::CallbackServerContext;
using grpc::ServerUnaryReactor;

class BundleStream : public OutStream<v1::ExportBundleResponse> {
 public:
  void begin() { keep(shared_from_this()); }
  void run(Desk& desk, const std::string& job) {
    constexpr size_t kPiece = size_t{1} << 20;
    const auto id = find_job(desk, job);
    if (!id) return finish(status_of(id.error()));
    const auto bundle = export_bundle(desk, *id);
    if (!bundle) return finish(status_of(bundle.error()));
    for (size_t at = 0; at < bundle->size(); at += kPiece) {
      v1::ExportBundleResponse piece;
      piece.set_piece(bundle->substr(at, kPiece));
      push(std::move(piece));
    }
    finish(grpc::Status::OK);
  }
};

class Service : public v1::LedgerService::CallbackService {
 public:
  Service(Desk& desk, Pool& pool) : desk_(desk), pool_(pool) {}

  ServerUnaryReactor* GetStatus(CallbackServerContext* context, const v1::GetStatusRequest* request,
                                v1::GetStatusResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return get_status(desk_, asked); });
  }
  ServerUnaryReactor* GetHead(CallbackServerContext* context, const v1::GetHeadRequest* request,
                              v1::GetHeadResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return get_head(desk_, asked); });
  }
  ServerUnaryReactor* Prove(CallbackServerContext* context, const v1::ProveRequest* request,
                            v1::ProveResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return prove(desk_, asked); });
  }
  ServerUnaryReactor* Audit(CallbackServerContext* context, const v1::AuditRequest* request,
                            v1::AuditResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return audit(desk_, asked); });
  }
  ServerUnaryReactor* GetCountersign(CallbackServerContext* context,
                                     const v1::GetCountersignRequest* request,
                                     v1::GetCountersignResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return get_countersign(desk_, asked); });
  }
  ServerUnaryReactor* TakeCountersign(CallbackServerContext* context,
                                      const v1::TakeCountersignRequest* request,
                                      v1::TakeCountersignResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return take_countersign(desk_, asked); });
  }
  grpc::ServerWriteReactor<v1::ExportBundleResponse>* ExportBundle(
      CallbackServerContext*, const v1::ExportBundleRequest* request) override {
    const auto stream = std::make_shared<BundleStream>();
    stream->begin();
    if (!pool_.post([this, stream, job = request->job()] { stream->run(desk_, job); })) {
      stream->finish(grpc::Status(grpc::StatusCode::UNAVAILABLE, "too many calls; try again"));
    }
    return stream.get();
  }

 private:
  Desk& desk_;
  Pool& pool_;
};

class StatusOnly : public v1::LedgerService::CallbackService {
 public:
  StatusOnly(std::function<v1::GetStatusResponse()> status, Pool& pool)
      : status_(std::move(status)), pool_(pool) {}
  ServerUnaryReactor* GetStatus(CallbackServerContext* context, const v1::GetStatusRequest* request,
                                v1::GetStatusResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto&) -> Result<v1::GetStatusResponse> { return status_(); });
  }

 private:
  std::function<v1::GetStatusResponse()> status_;
  Pool& pool_;
};

}  // namespace

std::unique_ptr<grpc::Service> make_ledger_service(Desk& desk, Pool& pool) {
  return std::make_unique<Service>(desk, pool);
}

std::unique_ptr<grpc::Service> make_status_service(std::function<v1::GetStatusResponse()> status,
                                                   Pool& pool) {
  return std::make_unique<StatusOnly>(std::move(status), pool);
}

}  // namespace fairlead::desk
