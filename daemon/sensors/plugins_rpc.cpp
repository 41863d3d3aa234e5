#include "daemon/sensors/plugins_rpc.h"

#include <fmt/format.h>
#include <grpcpp/grpcpp.h>
#include <grpcpp/server_posix.h>

#include <chrono>
#include <deque>
#include <mutex>
#include <utility>

#include "fairlead/v1/plugin_service.grpc.pb.h"

namespace fairlead::sensors {

namespace {
constexpr int kMaxFrameBytes = 1 << 20;
// Frames waiting for a plugin that does not read: acks are merged, so this is never reached by one
// that does.
constexpr size_t kMaxWaiting = 64;

// One stream. Lives until gRPC is done with it and the session has let go: `self_` is gRPC's share.
class Stream : public grpc::ServerBidiReactor<v1::FeedRequest, v1::FeedResponse>,
               public Link,
               public std::enable_shared_from_this<Stream> {
 public:
  explicit Stream(PluginServer::Find find) : find_(std::move(find)) {}

  void begin() {
    self_ = shared_from_this();
    StartRead(&incoming_);
  }

  // Link -----------------------------------------------------------------------------------------
  void send(v1::FeedResponse frame) override {
    std::lock_guard lock(mutex_);
    if (finished_ || closing_) return;
    bool newer_ack = frame.has_ack() && !waiting_.empty() && waiting_.back().has_ack();
    if (newer_ack) {
      waiting_.back() = std::move(frame);
    } else if (waiting_.size() < kMaxWaiting) {
      waiting_.push_back(std::move(frame));
    }
    write_next();
  }

  void resume() override {
    std::lock_guard lock(mutex_);
    // Before Finish no OnDone can come, so a read may be started.
    if (!finished_) StartRead(&incoming_);
  }

  void close() override {
    std::lock_guard lock(mutex_);
    closing_ = true;
    write_next();
  }

  // Reactions ------------------------------------------------------------------------------------
  void OnReadDone(bool ok) override {
    if (!ok) {
      gone();
      return;
    }
    v1::FeedRequest frame = std::move(incoming_);
    incoming_ = v1::FeedRequest();
    Reading next = session_ ? session_->frame(std::move(frame), shared_from_this()) : greet(frame);
    if (next == Reading::kEnd) close();
    if (next == Reading::kGoOn) resume();
  }

  void OnWriteDone(bool ok) override {
    std::lock_guard lock(mutex_);
    writing_ = false;
    if (ok) write_next();
  }

  void OnCancel() override { gone(); }

  void OnDone() override {
    std::shared_ptr<Stream> last = std::move(self_);
    // Ended from our side: the session lets go of it too.
    if (session_) session_->broken(last);
  }

 private:
  Reading greet(const v1::FeedRequest& frame) {
    if (!frame.has_hello()) return refuse("the first frame must be hello");
    std::shared_ptr<Session> session = find_(frame.hello().session_id());
    if (!session) return refuse("session_id: not a running session");
    if (auto ok = session->hello(frame.hello(), shared_from_this()); !ok) {
      return refuse(ok.error().message);
    }
    session_ = std::move(session);
    return Reading::kGoOn;
  }

  Reading refuse(const std::string& reason) {
    v1::FeedResponse answer;
    answer.mutable_refused()->set_reason(reason);
    send(std::move(answer));
    return Reading::kEnd;
  }

  // With the lock held. One write at a time; the end comes after the last.
  void write_next() {
    if (finished_ || writing_) return;
    if (!waiting_.empty()) {
      writing_ = true;
      outgoing_ = std::move(waiting_.front());
      waiting_.pop_front();
      StartWrite(&outgoing_);
    } else if (closing_) {
      finished_ = true;
      Finish(grpc::Status::OK);
    }
  }

  void gone() {
    if (session_) session_->broken(shared_from_this());
    std::lock_guard lock(mutex_);
    if (std::exchange(finished_, true)) return;
    Finish(grpc::Status::CANCELLED);
  }

  PluginServer::Find find_;
  std::shared_ptr<Stream> self_;
  std::shared_ptr<Session> session_;
  v1::FeedRequest incoming_;
  v1::FeedResponse outgoing_;
  std::mutex mutex_;
  std::deque<v1::FeedResponse> waiting_;
  bool writing_ = false;
  bool closing_ = false;
  bool finished_ = false;
};

class GrpcServer : public PluginServer, public v1::PluginService::CallbackService {
 public:
  explicit GrpcServer(Find find) : find_(std::move(find)) {}
  ~GrpcServer() override { stop(); }

  Status listen(const std::filesystem::path& socket) {
    grpc::ServerBuilder builder;
    builder.AddListeningPort("unix:" + socket.string(), grpc::InsecureServerCredentials());
    builder.SetMaxReceiveMessageSize(kMaxFrameBytes);
    // Without these two a stream that is not read still takes megabytes from the plugin.
    builder.AddChannelArgument(GRPC_ARG_HTTP2_BDP_PROBE, 0);
    builder.AddChannelArgument(GRPC_ARG_HTTP2_STREAM_LOOKAHEAD_BYTES, 65536);
    builder.RegisterService(this);
    server_ = builder.BuildAndStart();
    if (!server_) {
      return fail(Code::kIo, fmt::format("{}: cannot listen for plugins; check the folder's rights",
                                         socket.string()));
    }
    return {};
  }

  void adopt(int fd) override { grpc::AddInsecureChannelFromFd(server_.get(), fd); }

  void stop() override {
    if (!server_) return;
    server_->Shutdown(std::chrono::system_clock::now());
    server_->Wait();
    server_.reset();
  }

  grpc::ServerBidiReactor<v1::FeedRequest, v1::FeedResponse>* Feed(
      grpc::CallbackServerContext* /*context*/) override {
    auto stream = std::make_shared<Stream>(find_);
    stream->begin();
    return stream.get();
  }

 private:
  Find find_;
  std::unique_ptr<grpc::Server> server_;
};
}  // namespace

Result<std::unique_ptr<PluginServer>> PluginServer::start(const std::filesystem::path& socket,
                                                          Find find) {
  auto server = std::make_unique<GrpcServer>(std::move(find));
  if (auto ok = server->listen(socket); !ok) return std::unexpected(ok.error());
  return server;
}

}  // namespace fairlead::sensors
