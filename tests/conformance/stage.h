// The daemon as the kit plays it, written from proto/fairlead/v1/plugin_service.proto alone and not
// from the daemon: it takes one plugin's streams, keeps everything said with the time it came, and
// can be told to be deaf, rude or gone.
//
// Threads: any; gRPC's own threads run Feed. Units: CLOCK_MONOTONIC microseconds of this machine.
#pragma once

#include <grpcpp/grpcpp.h>

#include <chrono>
#include <condition_variable>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <vector>

#include "fairlead/v1/plugin_service.grpc.pb.h"

namespace fairlead::conformance {

// As the daemon asks for it, and how long it waits for one (daemon/sensors/life.h).
inline constexpr uint32_t kHeartbeatMs = 500;
inline constexpr int64_t kStaleUs = 1'500'000;

/// One frame and when it came.
struct Said {
  int stream = 0;  // From 1.
  int64_t at_us = 0;
  v1::FeedRequest frame;
};

class Stage : public v1::PluginService::Service {
 public:
  /// What a hello is answered; by default a welcome as it should be.
  using Answer = std::function<v1::FeedResponse(const v1::PluginHello&)>;

  Stage(std::filesystem::path socket, std::string config, std::string session);
  ~Stage() override;

  [[nodiscard]] v1::FeedResponse welcome() const;
  void set_answer(Answer answer);
  void set_reading(bool on);
  void set_acking(bool on);
  /// Ends the present stream; a later one is welcomed.
  void break_stream();
  /// Listens no more, as a daemon that died.
  void vanish();
  void send(const v1::FeedResponse& frame);

  [[nodiscard]] std::vector<Said> said() const;
  [[nodiscard]] int streams() const;
  [[nodiscard]] uint64_t acked() const;
  /// Waits until the condition, asked with the lock held, is true.
  bool wait(std::chrono::milliseconds within,
            const std::function<bool(const std::vector<Said>&)>& is);

  grpc::Status Feed(grpc::ServerContext* context,
                    grpc::ServerReaderWriter<v1::FeedResponse, v1::FeedRequest>* stream) override;

 private:
  using Wire = grpc::ServerReaderWriter<v1::FeedResponse, v1::FeedRequest>;
  bool take(int number, Wire* stream);

  const std::filesystem::path socket_;
  const std::string config_;
  const std::string session_;
  mutable std::mutex mutex_;
  std::condition_variable changed_;
  Answer answer_;
  std::vector<Said> said_;
  int streams_ = 0;
  bool reading_ = true;
  bool acking_ = true;
  bool closing_ = false;
  uint64_t acked_ = 0;
  grpc::ServerContext* context_ = nullptr;
  Wire* wire_ = nullptr;
  std::unique_ptr<grpc::Server> server_;
};

[[nodiscard]] int64_t mono_now_us();
[[nodiscard]] int64_t wall_now_us();

}  // namespace fairlead::conformance
