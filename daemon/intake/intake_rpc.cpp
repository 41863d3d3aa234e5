#include "daemon/intake/intake_rpc.h"

#include <grpcpp/grpcpp.h>

#include "daemon/intake/peer_rpc.h"

namespace fairlead::intake {
namespace {

// Replies that wait for the network before the stream is given up: a truck that does not read.
constexpr size_t kMostReplies = 4'096;

class Stream : public grpc::ServerBidiReactor<v1::RecordRequest, v1::RecordResponse>,
               public Peer,
               public std::enable_shared_from_this<Stream> {
 public:
  explicit Stream(IntakeRoom& room) : room_(room) {}

  /// Lives until OnDone.
  void begin(std::optional<record::Id16> certified) {
    self_ = shared_from_this();
    id_ = room_.join(self_, certified);
    StartRead(&request_);
  }

  void OnReadDone(bool ok) override {
    if (!ok) {
      close();
      return;
    }
    if (room_.push(id_, std::move(*request_.mutable_shipment()))) read();
  }
  void OnWriteDone(bool ok) override {
    std::unique_lock lock(mutex_);
    writing_ = false;
    if (!ok) {
      replies_.clear();
      closing_ = true;
    }
    go_on(lock);
  }
  void OnCancel() override { close(); }
  void OnDone() override {
    room_.leave(id_);
    self_.reset();
  }

  void send(v1::Reply reply) override {
    std::unique_lock lock(mutex_);
    if (closing_) return;
    if (replies_.size() >= kMostReplies) {
      replies_.clear();
      closing_ = true;
    } else {
      *replies_.emplace_back().mutable_reply() = std::move(reply);
    }
    go_on(lock);
  }
  void read_on() override { read(); }
  void close() override {
    std::unique_lock lock(mutex_);
    closing_ = true;
    go_on(lock);
  }

 private:
  void read() {
    const std::lock_guard lock(mutex_);
    if (!closing_) StartRead(&request_);
  }
  // Writes the next reply, or finishes once nothing is left.
  void go_on(std::unique_lock<std::mutex>& lock) {
    if (writing_ || finished_) return;
    if (!replies_.empty()) {
      response_ = std::move(replies_.front());
      replies_.pop_front();
      writing_ = true;
      StartWrite(&response_);
      return;
    }
    if (!closing_) return;
    finished_ = true;
    lock.unlock();
    Finish(grpc::Status::OK);
  }

  IntakeRoom& room_;
  uint64_t id_ = 0;
  std::shared_ptr<Stream> self_;
  std::mutex mutex_;
  v1::RecordRequest request_;
  v1::RecordResponse response_;
  std::deque<v1::RecordResponse> replies_;
  bool writing_ = false, closing_ = false, finished_ = false;
};

// A certificate that is not a truck's speaks for the device zero, which there is not.
std::optional<record::Id16> certified_device(const grpc::CallbackServerContext& context) {
  const auto caller = peer_of(*context.auth_context());
  if (caller && caller->role == PeerRole::kOwnerLocal) return std::nullopt;
  if (!caller || caller->role != PeerRole::kTruck) return record::Id16{};
  return array_of_hex<16>(caller->id, "certificate").value_or(record::Id16{});
}

class Service : public v1::IntakeService::CallbackService {
 public:
  explicit Service(IntakeRoom& room) : room_(room) {}
  grpc::ServerBidiReactor<v1::RecordRequest, v1::RecordResponse>* Record(
      grpc::CallbackServerContext* context) override {
    const auto stream = std::make_shared<Stream>(room_);
    stream->begin(certified_device(*context));
    return stream.get();
  }

 private:
  IntakeRoom& room_;
};

}  // namespace

std::unique_ptr<grpc::Service> make_intake_service(IntakeRoom& room) {
  return std::make_unique<Service>(room);
}

}  // namespace fairlead::intake
