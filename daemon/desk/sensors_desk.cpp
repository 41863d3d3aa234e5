#include "daemon/desk/sensors_desk.h"

#include <fmt/format.h>

#include "daemon/base/time_text.h"
#include "daemon/physics/calibration.h"
#include "daemon/record/observation_check.h"
#include "daemon/record/observation_ranges.h"

namespace fairlead::desk {

namespace {
constexpr size_t kLongestWords = 1000;
}

Result<v1::Observation> calibration_line(const v1::RecordCalibrationRequest& request,
                                         int64_t wall_us) {
  if (!record::range_of_signal(request.channel())) {
    return fail(
        Code::kBadInput,
        fmt::format("channel: \"{}\" is no signal; see fairlead watch sensors", request.channel()));
  }
  if (!physics::calibration_from_text(request.calibration())) {
    return fail(Code::kBadInput,
                "calibration: is not understood; write \"C-17 of 2026-03-02; zero 12.5; span 1\"");
  }
  if (request.words().size() + request.calibration().size() > kLongestWords) {
    return fail(Code::kBadInput, "words: are too long; 900 characters will do");
  }
  if (request.operator_().empty()) {
    return fail(Code::kBadInput, "operator: is missing; give the card of who did it");
  }
  v1::Observation line;
  line.set_time(format_time_us(wall_us));
  line.set_source(request.source());
  line.mutable_sensor()->set_channel(request.channel());
  line.mutable_sensor()->set_state(fmt::format("calibration worked out: {}; {}; by {}",
                                               request.calibration(), request.words(),
                                               request.operator_()));
  line.set_seq(1);  // For the check alone: the record gives it its own.
  if (auto ok = record::check_observation(line); !ok) return std::unexpected(ok.error());
  line.clear_seq();
  return line;
}

}  // namespace fairlead::desk
