#include "plugins/sdk/stream.h"

#include <grpcpp/create_channel_posix.h>

#include <utility>

namespace fairlead::sdk {

std::shared_ptr<grpc::Channel> dial(const Address& address) {
  grpc::ChannelArguments args;
  // Without these two the transport swallows megabytes before it pushes back.
  args.SetInt(GRPC_ARG_HTTP2_BDP_PROBE, 0);
  args.SetInt(GRPC_ARG_HTTP2_STREAM_LOOKAHEAD_BYTES, 65536);
  args.SetInt(GRPC_ARG_ENABLE_HTTP_PROXY, 0);
  args.SetInt(GRPC_ARG_USE_LOCAL_SUBCHANNEL_POOL, 1);
  if (address.fd >= 0) {
    return grpc::CreateCustomInsecureChannelFromFd("daemon", address.fd, args);
  }
  return grpc::CreateCustomChannel("unix:" + address.socket_path,
                                   grpc::InsecureChannelCredentials(), args);
}

Stream::Stream(const std::shared_ptr<grpc::Channel>& channel)
    : stub_(v1::PluginService::NewStub(channel)) {
  stub_->async()->Feed(&context_, this);
  AddHold();  // Writes start outside of reactions.
  StartRead(&incoming_);
  StartCall();
}

bool Stream::can_write() {
  std::lock_guard lock(mutex_);
  return !writing_ && !broken_;
}

bool Stream::try_write(v1::FeedRequest frame) {
  {
    std::lock_guard lock(mutex_);
    if (writing_ || broken_) return false;
    writing_ = true;
    outgoing_ = std::move(frame);
  }
  StartWrite(&outgoing_);
  return true;
}

std::optional<v1::FeedResponse> Stream::take() {
  std::lock_guard lock(mutex_);
  if (arrived_.empty()) return std::nullopt;
  v1::FeedResponse response = std::move(arrived_.front());
  arrived_.pop_front();
  return response;
}

bool Stream::broken() {
  std::lock_guard lock(mutex_);
  return broken_ && arrived_.empty();
}

void Stream::wait(std::chrono::milliseconds at_most) {
  std::unique_lock lock(mutex_);
  bool was_writing = writing_;
  changed_.wait_for(lock, at_most,
                    [&] { return !arrived_.empty() || broken_ || (was_writing && !writing_); });
}

grpc::Status Stream::end() {
  context_.TryCancel();
  std::unique_lock lock(mutex_);
  if (std::exchange(held_, false)) {
    lock.unlock();
    RemoveHold();
    lock.lock();
  }
  changed_.wait(lock, [&] { return done_; });
  return status_;
}

void Stream::OnReadDone(bool ok) {
  {
    std::lock_guard lock(mutex_);
    if (ok) {
      arrived_.push_back(std::move(incoming_));
      incoming_ = v1::FeedResponse();
    } else {
      broken_ = true;
    }
    changed_.notify_all();
  }
  if (ok) StartRead(&incoming_);
}

void Stream::OnWriteDone(bool ok) {
  std::lock_guard lock(mutex_);
  writing_ = false;
  if (!ok) broken_ = true;
  changed_.notify_all();
}

void Stream::OnDone(const grpc::Status& status) {
  std::lock_guard lock(mutex_);
  status_ = status;
  broken_ = true;
  done_ = true;
  changed_.notify_all();
}

}  // namespace fairlead::sdk
