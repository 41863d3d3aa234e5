// The order of the clamps of a jump start.
//
// On: positive of the discharged, positive of the source, negative of the source, then bare metal
// of the discharged vehicle away from its battery; off strictly in reverse (five pages, an owner
// manual among them; secondary sources). One page begins at the source's positive, so what decides
// for safety is the last connection and the first disconnection: both at the ground clamp.
//
// Threads: pure functions. Units: seconds on one time scale; each time is an interval.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include "daemon/physics/check.h"

namespace fairlead::physics {

/// The four clamps in the order in which they go on.
enum class Clamp { kVehiclePositive, kSourcePositive, kSourceNegative, kVehicleGround };
inline constexpr size_t kClamps = 4;

/// When each went on or came off; absent: it did not, or nobody knows.
using ClampTimes = std::array<std::optional<Interval>, kClamps>;

/// Ground on after all others, and the published order as a whole (shown, decides nothing).
/// Margins in seconds; a clamp without a time leaves what needs it unproven. Errors: kBadInput for
/// a time that is NaN or out of order.
[[nodiscard]] Result<std::vector<Check>> check_connecting(const ClampTimes& on_s);
/// Ground off before all others, and the whole reverse order (shown, decides nothing).
[[nodiscard]] Result<std::vector<Check>> check_disconnecting(const ClampTimes& off_s);

}  // namespace fairlead::physics
