#include "daemon/physics/boosting_order.h"

namespace fairlead::physics {
namespace {

constexpr Interval kNever{-kNoBound, kNoBound};
constexpr size_t kGround = static_cast<size_t>(Clamp::kVehicleGround);

Status check_times(const ClampTimes& times) {
  for (const auto& time : times) {
    if (!time) continue;
    if (auto ok = check_input("time of a clamp", *time, {-1e12, 1e12}); !ok) return ok;
  }
  return {};
}

// Seconds by which `first` comes before `then`.
Interval lead(const std::optional<Interval>& first, const std::optional<Interval>& then) {
  return first && then ? *then - *first : kNever;
}

// Margins of the ground clamp against the nearest of the others, and of the order as a whole.
std::vector<Check> checks_of(const ClampTimes& times, bool connecting) {
  Interval ground{kNoBound, kNoBound}, order = ground;
  for (size_t i = 0; i + 1 < kClamps; ++i) {
    const auto before = [&](size_t a, size_t b) {
      return connecting ? lead(times[a], times[b]) : lead(times[b], times[a]);
    };
    ground = least(ground, before(i, kGround));
    order = least(order, before(i, i + 1));
  }
  std::vector<Check> checks{
      from(at_least(connecting ? "ground clamp on last" : "ground clamp off first", "s", ground,
                    exactly(0)),
           "order of jump starting, five published pages", Standing::kSecondary),
      from(at_least(connecting ? "published order of connecting" : "published order of taking off",
                    "s", order, exactly(0)),
           "order of jump starting, five published pages", Standing::kSecondary,
           "one page begins at the source's positive")};
  checks[1].decides = false;
  return checks;
}

}  // namespace

Result<std::vector<Check>> check_connecting(const ClampTimes& on_s) {
  if (auto ok = check_times(on_s); !ok) return std::unexpected(ok.error());
  return checks_of(on_s, true);
}

Result<std::vector<Check>> check_disconnecting(const ClampTimes& off_s) {
  if (auto ok = check_times(off_s); !ok) return std::unexpected(ok.error());
  return checks_of(off_s, false);
}

}  // namespace fairlead::physics
