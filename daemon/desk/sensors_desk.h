// A truck's sensors for a person who wires or calibrates them.
//
// Threads: any.
#pragma once

#include <string>

#include "daemon/base/result.h"
#include "fairlead/v1/observation.pb.h"
#include "fairlead/v1/sensors_service.pb.h"

namespace fairlead::desk {

/// The line that goes on record. Errors: kBadInput naming the field.
[[nodiscard]] Result<v1::Observation> calibration_line(const v1::RecordCalibrationRequest& request,
                                                       int64_t wall_us);

}  // namespace fairlead::desk
