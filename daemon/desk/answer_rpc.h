// From a gRPC call to a plain function: unary calls run on a few threads of their own, never in the
// reaction; errors get their gRPC code in one table.
//
// Threads: any. The pool must outlive the server: shut the server down first.
#pragma once

#include <grpcpp/grpcpp.h>

#include <array>
#include <atomic>
#include <functional>
#include <utility>

#include "daemon/base/result.h"
#include "daemon/base/worker.h"

namespace fairlead::desk {

[[nodiscard]] grpc::Status status_of(const Error& error);

class Pool {
 public:
  /// Calls under way or waiting, beyond which a call is turned away.
  static constexpr int kMostCalls = 256;

  /// False: too many calls.
  bool post(std::function<void()> call) {
    if (calls_.fetch_add(1) >= kMostCalls) {
      --calls_;
      return false;
    }
    return workers_[next_++ % workers_.size()].post([this, call = std::move(call)] {
      call();
      --calls_;
    });
  }

 private:
  std::atomic<int> calls_{0};
  std::atomic<size_t> next_{0};
  std::array<Worker, 4> workers_;
};

/// Runs `call(request)` on the pool and answers with its Result.
template <typename Request, typename Response, typename Call>
grpc::ServerUnaryReactor* answer(grpc::CallbackServerContext* context, Pool& pool,
                                 const Request* request, Response* response, Call call) {
  grpc::ServerUnaryReactor* reactor = context->DefaultReactor();
  const bool taken = pool.post([reactor, request, response, call = std::move(call)] {
    Result<Response> result = call(*request);
    if (result) *response = std::move(*result);
    reactor->Finish(result ? grpc::Status::OK : status_of(result.error()));
  });
  if (!taken)
    reactor->Finish(grpc::Status(grpc::StatusCode::UNAVAILABLE, "too many calls; try again"));
  return reactor;
}

}  // namespace fairlead::desk
