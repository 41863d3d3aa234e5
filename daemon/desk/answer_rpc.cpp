#include "daemon/desk/answer_rpc.h"

namespace fairlead::desk {

grpc::Status status_of(const Error& error) {
  const auto code = [&] {
    switch (error.code) {
      case Code::kBadInput:
        return grpc::StatusCode::INVALID_ARGUMENT;
      case Code::kNotFound:
        return grpc::StatusCode::NOT_FOUND;
      case Code::kConflict:
        return grpc::StatusCode::FAILED_PRECONDITION;
      case Code::kUnavailable:
        return grpc::StatusCode::UNAVAILABLE;
      case Code::kDenied:
        return grpc::StatusCode::PERMISSION_DENIED;
      case Code::kCorrupt:
        return grpc::StatusCode::DATA_LOSS;
      case Code::kIo:
      case Code::kInternal:
        break;
    }
    return grpc::StatusCode::INTERNAL;
  }();
  return {code, error.message};
}

}  // namespace fairlead::desk
