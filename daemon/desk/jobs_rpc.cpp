#include "daemon/desk/jobs_rpc.h"

#include <deque>
#include <mutex>

#include "daemon/desk/other_rules.h"
#include "daemon/desk/stream_rpc.h"
#include "daemon/desk/unjobbed.h"
#include "daemon/intake/peer_rpc.h"
#include "fairlead/v1/jobs_service.grpc.pb.h"

namespace fairlead::desk {
namespace {

/// The card whose jobs the caller may see; nullopt: every job.
std::optional<std::string> only_card(const grpc::CallbackServerContext& context) {
  const auto caller = intake::peer_of(*context.auth_context());
  if (!caller) return "";
  return caller->role == PeerRole::kOperator ? std::optional(caller->id) : std::nullopt;
}

/// Whether the caller's certificate still counts.
std::function<Status()> still_may(Desk& desk, const grpc::CallbackServerContext& context) {
  const auto caller = intake::peer_of(*context.auth_context());
  if (!desk.revoked || !caller || caller->role == PeerRole::kOwnerLocal)
    return [] { return Status{}; };
  return [revoked = desk.revoked, caller = *caller,
          certificate = intake::certificate_of(*context.auth_context())] {
    return revoked->check(caller, certificate);
  };
}

bool shows(const std::optional<std::string>& card, const v1::Job& job) {
  return !card || (!card->empty() && job.operator_card() == *card);
}

/// Another's job is not there for an operator.
Status check_own(Desk& desk, const std::optional<std::string>& card, const std::string& job) {
  if (!card) return {};
  v1::GetJobRequest request;
  request.set_job(job);
  const auto found = get_job(desk, request);
  if (!found) return std::unexpected(found.error());
  if (shows(card, found->job())) return {};
  return fail(Code::kNotFound, "no job '" + job + "' of yours; fairlead jobs lists them");
}

Result<v1::ListJobsResponse> list_own(Desk& desk, const std::optional<std::string>& card,
                                      const v1::ListJobsRequest& request) {
  auto all = list_jobs(desk, request);
  if (!all || !card) return all;
  v1::ListJobsResponse own;
  for (v1::Job& job : *all->mutable_job()) {
    if (shows(card, job)) *own.add_job() = std::move(job);
  }
  return own;
}

// News of one job, or of all, for as long as the caller listens.
class FindingsStream : public OutStream<v1::WatchFindingsResponse> {
 public:
  FindingsStream(Desk& desk, std::optional<record::Id16> job, std::optional<std::string> card,
                 std::function<Status()> still_may)
      : desk_(desk), job_(job), card_(std::move(card)), still_may_(std::move(still_may)) {}

  void begin() {
    keep(shared_from_this());
    for (const watch::JobView& view : desk_.watch.jobs()) {
      if (!job_ || *job_ == view.job) tell({view, view.findings.lines(), {}});
    }
    const std::weak_ptr<OutStream> weak = weak_from_this();
    subscription_ = desk_.watch.subscribe([weak](const watch::JobNews& news) {
      if (const auto self = weak.lock()) static_cast<FindingsStream&>(*self).tell(news);
    });
  }
  void ended() override { desk_.watch.unsubscribe(subscription_); }

 private:
  void tell(const watch::JobNews& news) {
    if (job_ && *job_ != news.view.job) return;
    // A stream may last for weeks; a certificate is revoked from one moment to the next.
    if (const auto may = still_may_(); !may)
      return finish({grpc::StatusCode::UNAUTHENTICATED, may.error().message});
    v1::WatchFindingsResponse response;
    *response.mutable_job() = job_message(desk_, news.view);
    if (!shows(card_, response.job())) return;
    for (const std::string& line : news.changed) response.add_finding(line);
    for (const std::string& words : news.warnings) response.add_warning(words);
    push(std::move(response));
  }

  Desk& desk_;
  std::optional<record::Id16> job_;
  std::optional<std::string> card_;
  std::function<Status()> still_may_;
  uint64_t subscription_ = 0;
};

class Service : public v1::JobsService::CallbackService {
 public:
  Service(Desk& desk, Pool& pool) : desk_(desk), pool_(pool) {}

  grpc::ServerUnaryReactor* OpenJob(grpc::CallbackServerContext* context,
                                    const v1::OpenJobRequest* request,
                                    v1::OpenJobResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return open_job(desk_, asked); });
  }
  grpc::ServerUnaryReactor* ListJobs(grpc::CallbackServerContext* context,
                                     const v1::ListJobsRequest* request,
                                     v1::ListJobsResponse* response) override {
    return answer(context, pool_, request, response,
                  [this, card = only_card(*context)](const auto& asked) {
                    return list_own(desk_, card, asked);
                  });
  }
  grpc::ServerUnaryReactor* GetJob(grpc::CallbackServerContext* context,
                                   const v1::GetJobRequest* request,
                                   v1::GetJobResponse* response) override {
    return answer(context, pool_, request, response,
                  [this, card = only_card(*context)](
                      const v1::GetJobRequest& asked) -> Result<v1::GetJobResponse> {
                    if (auto ok = check_own(desk_, card, asked.job()); !ok)
                      return std::unexpected(ok.error());
                    return get_job(desk_, asked);
                  });
  }
  grpc::ServerUnaryReactor* ListUnjobbed(grpc::CallbackServerContext* context,
                                         const v1::ListUnjobbedRequest* request,
                                         v1::ListUnjobbedResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return list_unjobbed(desk_, asked); });
  }
  grpc::ServerUnaryReactor* JudgeJob(grpc::CallbackServerContext* context,
                                     const v1::JudgeJobRequest* request,
                                     v1::JudgeJobResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return judge_job(desk_, asked); });
  }
  grpc::ServerUnaryReactor* AttachFile(grpc::CallbackServerContext* context,
                                       const v1::AttachFileRequest* request,
                                       v1::AttachFileResponse* response) override {
    return answer(context, pool_, request, response,
                  [this, card = only_card(*context)](
                      const v1::AttachFileRequest& asked) -> Result<v1::AttachFileResponse> {
                    if (auto ok = check_own(desk_, card, asked.job()); !ok)
                      return std::unexpected(ok.error());
                    return attach_file(desk_, asked);
                  });
  }
  grpc::ServerWriteReactor<v1::WatchFindingsResponse>* WatchFindings(
      grpc::CallbackServerContext* context, const v1::WatchFindingsRequest* request) override {
    std::optional<record::Id16> job;
    // By full id or name only: looking a job up would read the disk in a reaction.
    if (!request->job().empty()) job = watch::job_id_of(request->job());
    const auto stream = std::make_shared<FindingsStream>(desk_, job, only_card(*context),
                                                         still_may(desk_, *context));
    stream->begin();
    return stream.get();
  }

 private:
  Desk& desk_;
  Pool& pool_;
};

}  // namespace

std::unique_ptr<grpc::Service> make_jobs_service(Desk& desk, Pool& pool) {
  return std::make_unique<Service>(desk, pool);
}

}  // namespace fairlead::desk
