#include "daemon/uplink/pipe_rpc.h"

#include <grpcpp/grpcpp.h>

#include <condition_variable>
#include <deque>
#include <mutex>

#include "daemon/uplink/dial_rpc.h"
#include "fairlead/v1/intake_service.grpc.pb.h"

namespace fairlead::uplink {
namespace {

// The base's replies wait here; it never sends more than a few a batch, so this is never reached by
// an honest one.
constexpr size_t kMostReplies = 8'192;

class Call : public grpc::ClientBidiReactor<v1::RecordRequest, v1::RecordResponse> {
 public:
  Call(v1::IntakeService::Stub& stub) {
    stub.async()->Record(&context_, this);
    AddHold();
    StartRead(&response_);
    StartCall();
  }

  void OnReadDone(bool ok) override {
    const std::lock_guard lock(mutex_);
    if (!ok || replies_.size() >= kMostReplies) {
      broken_ = true;
    } else {
      replies_.push_back(std::move(*response_.mutable_reply()));
      if (!ended_) StartRead(&response_);
    }
    wake_.notify_all();
  }
  void OnWriteDone(bool ok) override {
    const std::lock_guard lock(mutex_);
    writing_ = false;
    if (!ok) {
      broken_ = true;
      wake_.notify_all();
    }
    write_next();
  }
  void OnDone(const grpc::Status& status) override {
    const std::lock_guard lock(mutex_);
    words_ = status.error_message();
    broken_ = done_ = true;
    wake_.notify_all();
  }

  Status send(v1::Shipment shipment) {
    const std::lock_guard lock(mutex_);
    if (broken_) return fail(Code::kUnavailable, "the link is down");
    *shipments_.emplace_back().mutable_shipment() = std::move(shipment);
    write_next();
    return {};
  }
  Result<std::optional<v1::Reply>> receive(std::chrono::milliseconds wait) {
    std::unique_lock lock(mutex_);
    wake_.wait_for(lock, wait, [this] { return broken_ || !replies_.empty(); });
    if (!replies_.empty()) {
      v1::Reply reply = std::move(replies_.front());
      replies_.pop_front();
      return reply;
    }
    if (broken_) return fail(Code::kUnavailable, words_.empty() ? "the link is down" : words_);
    return std::nullopt;
  }
  /// Cancels and waits until gRPC has let go of this object.
  void end() {
    {
      const std::lock_guard lock(mutex_);
      ended_ = true;
    }
    context_.TryCancel();
    RemoveHold();
    std::unique_lock lock(mutex_);
    wake_.wait(lock, [this] { return done_; });
  }

 private:
  void write_next() {
    if (writing_ || broken_ || ended_ || shipments_.empty()) return;
    request_ = std::move(shipments_.front());
    shipments_.pop_front();
    writing_ = true;
    StartWrite(&request_);
  }

  grpc::ClientContext context_;
  std::mutex mutex_;
  std::condition_variable wake_;
  v1::RecordRequest request_;
  v1::RecordResponse response_;
  std::deque<v1::RecordRequest> shipments_;
  std::deque<v1::Reply> replies_;
  std::string words_;
  bool writing_ = false, broken_ = false, ended_ = false, done_ = false;
};

class RpcPipe : public Pipe {
 public:
  RpcPipe(const std::string& address, const TlsFiles* tls) {
    grpc::ChannelArguments arguments;
    // A channel of its own a connection: a new attempt dials at once, on the uplink's own schedule.
    arguments.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);
    stub_ = v1::IntakeService::NewStub(channel_to(address, tls, std::move(arguments)));
    call_ = std::make_unique<Call>(*stub_);
  }
  ~RpcPipe() override { call_->end(); }

  Status send(v1::Shipment shipment) override { return call_->send(std::move(shipment)); }
  Result<std::optional<v1::Reply>> receive(std::chrono::milliseconds wait) override {
    return call_->receive(wait);
  }

 private:
  std::unique_ptr<v1::IntakeService::Stub> stub_;
  std::unique_ptr<Call> call_;
};

}  // namespace

std::unique_ptr<Pipe> dial(const std::string& address, const TlsFiles* tls) {
  return std::make_unique<RpcPipe>(address, tls);
}

}  // namespace fairlead::uplink
