// How much earlier than it is issued a caller's certificate begins to hold, so that a clock that is
// a little slow elsewhere does not refuse it: when it was issued is its beginning and this.
#pragma once

#include <cstdint>

namespace fairlead {

inline constexpr int64_t kCertificateSlack_s = 3'600;

}  // namespace fairlead
