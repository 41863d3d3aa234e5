#include "daemon/desk/feed_rpc.h"

#include "fairlead/v1/feed_service.grpc.pb.h"

namespace fairlead::desk {
namespace {

class Service : public v1::FeedService::CallbackService {
 public:
  Service(std::function<watch::Recorder*()> recorder, Pool& pool)
      : recorder_(std::move(recorder)), pool_(pool) {}

  grpc::ServerUnaryReactor* FeedLines(grpc::CallbackServerContext* context,
                                      const v1::FeedLinesRequest* request,
                                      v1::FeedLinesResponse* response) override {
    return answer(
        context, pool_, request, response,
        [this](const v1::FeedLinesRequest& lines) -> Result<v1::FeedLinesResponse> {
          watch::Recorder* recorder = recorder_();
          if (recorder == nullptr) {
            return fail(
                Code::kUnavailable,
                "this truck is not enrolled yet and cannot record; start its base once, or run "
                "fairlead enrol truck there with the code fairlead status shows here");
          }
          return feed_lines(*recorder, lines);
        });
  }

 private:
  std::function<watch::Recorder*()> recorder_;
  Pool& pool_;
};

}  // namespace

std::unique_ptr<grpc::Service> make_feed_service(std::function<watch::Recorder*()> recorder,
                                                 Pool& pool) {
  return std::make_unique<Service>(std::move(recorder), pool);
}

}  // namespace fairlead::desk
