// One gRPC stream of a plugin, made plain: start a write when none is under way, take what has
// arrived, see that it broke.
//
// Threads: the client's thread calls; gRPC's threads run the reactions, which only move messages
// under the lock. Ownership: the stream must be ended (end()) before it is destroyed.
#pragma once

#include <grpcpp/grpcpp.h>

#include <chrono>
#include <condition_variable>
#include <deque>
#include <memory>
#include <mutex>
#include <optional>

#include "fairlead/v1/plugin_service.grpc.pb.h"
#include "plugins/sdk/address.h"

namespace fairlead::sdk {

/// A channel to the daemon; connects when a stream is opened on it.
[[nodiscard]] std::shared_ptr<grpc::Channel> dial(const Address& address);

class Stream : public grpc::ClientBidiReactor<v1::FeedRequest, v1::FeedResponse> {
 public:
  explicit Stream(const std::shared_ptr<grpc::Channel>& channel);

  /// False when a write is still under way or the stream is broken.
  bool try_write(v1::FeedRequest frame);
  [[nodiscard]] bool can_write();
  std::optional<v1::FeedResponse> take();
  [[nodiscard]] bool broken();
  /// Until something arrived, a write finished, it broke, or the time is over.
  void wait(std::chrono::milliseconds at_most);
  /// Cancels and waits for gRPC to let go. Returns the stream's last word.
  grpc::Status end();

  void OnReadDone(bool ok) override;
  void OnWriteDone(bool ok) override;
  void OnDone(const grpc::Status& status) override;

 private:
  std::unique_ptr<v1::PluginService::Stub> stub_;
  grpc::ClientContext context_;
  std::mutex mutex_;
  std::condition_variable changed_;
  v1::FeedRequest outgoing_;
  v1::FeedResponse incoming_;
  std::deque<v1::FeedResponse> arrived_;
  bool writing_ = false;
  bool broken_ = false;
  bool held_ = true;
  bool done_ = false;
  grpc::Status status_;
};

}  // namespace fairlead::sdk
