// Whether the values of an observation are sane, wherever it came from: a line, a plugin, the body
// of an entry. Driven by protobuf reflection over the tables of observation_ranges and
// observation_words, so a new kind needs no new code here.
//
// Threads: pure function.
#pragma once

#include <string_view>

#include "daemon/base/result.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::record {

/// Name of the kind as lines spell it ("vehicleMode"); "" when no kind is set.
[[nodiscard]] std::string_view kind_name(const v1::Observation& observation);

/// Errors: kBadInput, "field.path: what; what to do", the first problem in field order. Presence of
/// plain fields cannot be seen here (proto3): the line reader checks it.
[[nodiscard]] Status check_observation(const v1::Observation& observation);

}  // namespace fairlead::record
