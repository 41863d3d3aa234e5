// Messages out to one caller, one write at a time, with a bounded queue: a caller that does not
// read is let go.
//
// Threads: push and finish from any; lives until gRPC's OnDone.
#pragma once

#include <grpcpp/grpcpp.h>

#include <deque>
#include <memory>
#include <mutex>

namespace fairlead::desk {

template <typename Response>
class OutStream : public grpc::ServerWriteReactor<Response>,
                  public std::enable_shared_from_this<OutStream<Response>> {
 public:
  static constexpr size_t kMostWaiting = 10'000;

  void push(Response response) {
    std::unique_lock lock(mutex_);
    if (closing_) return;
    if (waiting_.size() >= kMostWaiting) {
      closing_ = true;
      status_ = grpc::Status(grpc::StatusCode::RESOURCE_EXHAUSTED,
                             "the caller reads too slowly; watch again");
      waiting_.clear();
    } else {
      waiting_.push_back(std::move(response));
    }
    go_on(lock);
  }
  /// Ends the stream after what was pushed.
  void finish(grpc::Status status) {
    std::unique_lock lock(mutex_);
    if (closing_) return;
    closing_ = true;
    status_ = std::move(status);
    go_on(lock);
  }

  void OnWriteDone(bool ok) override {
    std::unique_lock lock(mutex_);
    writing_ = false;
    if (!ok) {
      closing_ = true;
      waiting_.clear();
    }
    go_on(lock);
  }
  void OnCancel() override {
    std::unique_lock lock(mutex_);
    closing_ = true;
    waiting_.clear();
    go_on(lock);
  }
  void OnDone() override {
    ended();
    const auto last = std::move(self_);
  }

 protected:
  /// Holds the stream until OnDone.
  void keep(std::shared_ptr<OutStream> self) { self_ = std::move(self); }
  virtual void ended() {}

 private:
  void go_on(std::unique_lock<std::mutex>& lock) {
    if (writing_ || finished_) return;
    if (!waiting_.empty()) {
      current_ = std::move(waiting_.front());
      waiting_.pop_front();
      writing_ = true;
      this->StartWrite(&current_);
      return;
    }
    if (!closing_) return;
    finished_ = true;
    const grpc::Status status = status_;
    lock.unlock();
    this->Finish(status);
  }

  std::mutex mutex_;
  std::deque<Response> waiting_;
  Response current_;
  grpc::Status status_;
  std::shared_ptr<OutStream> self_;
  bool writing_ = false, closing_ = false, finished_ = false;
};

}  // namespace fairlead::desk
