#include "daemon/desk/sensors_rpc.h"

#include "fairlead/v1/sensors_service.grpc.pb.h"

namespace fairlead::desk {
namespace {

class Service : public v1::SensorsService::CallbackService {
 public:
  Service(SensorsCalls calls, Pool& pool) : calls_(std::move(calls)), pool_(pool) {}

  grpc::ServerUnaryReactor* GetSensors(grpc::CallbackServerContext* context,
                                       const v1::GetSensorsRequest* request,
                                       v1::GetSensorsResponse* response) override {
    return answer(context, pool_, request, response, calls_.get);
  }

  grpc::ServerUnaryReactor* RecordCalibration(grpc::CallbackServerContext* context,
                                              const v1::RecordCalibrationRequest* request,
                                              v1::RecordCalibrationResponse* response) override {
    return answer(
        context, pool_, request, response,
        [this](const v1::RecordCalibrationRequest& asked) -> Result<v1::RecordCalibrationResponse> {
          auto line = calibration_line(asked, calls_.wall_us());
          if (!line) return std::unexpected(line.error());
          auto leaf = calls_.say_now(std::move(*line));
          if (!leaf) return std::unexpected(leaf.error());
          v1::RecordCalibrationResponse done;
          done.set_leaf(*leaf);
          return done;
        });
  }

 private:
  SensorsCalls calls_;
  Pool& pool_;
};

}  // namespace

std::unique_ptr<grpc::Service> make_sensors_service(SensorsCalls calls, Pool& pool) {
  return std::make_unique<Service>(std::move(calls), pool);
}

}  // namespace fairlead::desk
