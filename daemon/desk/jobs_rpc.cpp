#include "daemon/desk/jobs_rpc.h"

#include <deque>
#include <mutex>

#include "daemon/desk/other_rules.h"
#include "daemon/desk/stream_rpc.h"
#include "daemon/desk/unjobbed.h"
#include "fairlead/v1/jobs_service.grpc.pb.h"

namespace fairlead::desk {
namespace {

// News of one job, or of all, for as long as the caller listens.
class FindingsStream : public OutStream<v1::WatchFindingsResponse> {
 public:
  FindingsStream(Desk& desk, std::optional<record::Id16> job) : desk_(desk), job_(job) {}

  void begin() {
    keep(shared_from_this());
    for (const watch::JobView& view : desk_.watch.jobs()) {
      if (!job_ || *job_ == view.job) tell({view, view.findings, {}});
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
    v1::WatchFindingsResponse response;
    *response.mutable_job() = job_message(desk_, news.view);
    for (const std::string& line : news.changed) response.add_finding(line);
    for (const std::string& words : news.warnings) response.add_warning(words);
    push(std::move(response));
  }

  Desk& desk_;
  std::optional<record::Id16> job_;
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
                  [this](const auto& asked) { return list_jobs(desk_, asked); });
  }
  grpc::ServerUnaryReactor* GetJob(grpc::CallbackServerContext* context,
                                   const v1::GetJobRequest* request,
                                   v1::GetJobResponse* response) override {
    return answer(context, pool_, request, response,
                  [this](const auto& asked) { return get_job(desk_, asked); });
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
                  [this](const auto& asked) { return attach_file(desk_, asked); });
  }
  grpc::ServerWriteReactor<v1::WatchFindingsResponse>* WatchFindings(
      grpc::CallbackServerContext*, const v1::WatchFindingsRequest* request) override {
    std::optional<record::Id16> job;
    // By full id or name only: looking a job up would read the disk in a reaction.
    if (!request->job().empty()) job = watch::job_id_of(request->job());
    const auto stream = std::make_shared<FindingsStream>(desk_, job);
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
