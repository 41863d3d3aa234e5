#include "daemon/physics/securement_recheck.h"

namespace fairlead::physics {

LookDue next_look(bool looked_before, double at_km, double at_hours) {
  if (!looked_before) return {kFirstLookKm, std::nullopt, false};
  return {at_km + kLaterLookKm, at_hours + kLaterLookHours, true};
}

Result<std::vector<Check>> check_look(const LookDue& due, Interval now_km, Interval now_hours,
                                      bool duty_changed) {
  if (auto ok = check_input("now_km", now_km, {0, 1e6}); !ok) return std::unexpected(ok.error());
  if (auto ok = check_input("now_hours", now_hours, {0, 1e5}); !ok)
    return std::unexpected(ok.error());
  const std::string origin = "49 CFR 392.9(b)";
  std::vector<Check> checks;
  checks.push_back(from(at_most("driven until the next look", "km", now_km, exactly(due.at_km)),
                        origin, Standing::kSecondary));
  if (due.at_hours)
    checks.push_back(
        from(at_most("hours driven until the next look", "h", now_hours, exactly(*due.at_hours)),
             origin, Standing::kSecondary));
  if (due.at_duty_change)
    checks.push_back(from(at_most("changes of duty status without a look", "items",
                                  exactly(duty_changed ? 1 : 0), exactly(0)),
                          origin, Standing::kSecondary));
  return checks;
}

}  // namespace fairlead::physics
