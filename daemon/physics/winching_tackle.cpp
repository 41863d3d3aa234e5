#include "daemon/physics/winching_tackle.h"

#include "daemon/physics/angles.h"

namespace fairlead::physics {
namespace {

constexpr Interval kForce{0, 1e8}, kIncluded{0, 180};

}  // namespace

Result<TackleLoads> tackle_loads(Interval resistance_n, const Tackle& tackle) {
  if (auto ok = check_input("resistance_n", resistance_n, kForce); !ok)
    return std::unexpected(ok.error());
  if (auto ok = check_input("parts", exactly(tackle.parts), {1, 32}); !ok)
    return std::unexpected(ok.error());
  if (auto ok = check_input("sheaves", exactly(tackle.sheaves), {0, 32}); !ok)
    return std::unexpected(ok.error());
  if (auto ok = check_input("parts_at_anchor", exactly(tackle.parts_at_anchor), {0, 32}); !ok)
    return std::unexpected(ok.error());
  TackleLoads loads;
  loads.tackle_n = kTackleSharePerSheave * tackle.sheaves * resistance_n;
  const double share = (1 + kTackleSharePerSheave * tackle.sheaves) / tackle.parts;
  loads.line_n = share * resistance_n;
  loads.anchor_n = static_cast<double>(tackle.parts_at_anchor) * loads.line_n;
  return loads;
}

Result<Interval> parts_needed(Interval pull_n, Interval available_n) {
  if (auto ok = check_input("pull_n", pull_n, kForce); !ok) return std::unexpected(ok.error());
  if (auto ok = check_input("available_n", available_n, kForce); !ok)
    return std::unexpected(ok.error());
  return over_corners(
      [](double pull, double available) {
        if (available <= 0) return pull > 0 ? kNoBound : 1.0;
        return std::max(1.0, std::ceil(pull / available - 1e-9));
      },
      pull_n, available_n);
}

Result<Interval> two_line_pull_n(Interval load_n, Interval included_deg) {
  if (auto ok = check_input("load_n", load_n, kForce); !ok) return std::unexpected(ok.error());
  if (auto ok = check_input("included_deg", included_deg, kIncluded); !ok)
    return std::unexpected(ok.error());
  return over_corners(
      [](double load, double included) {
        const double each = 2 * cos_deg(included / 2);
        return load == 0 ? 0 : each > 0 ? load / each : kNoBound;
      },
      load_n, included_deg);
}

Result<Interval> block_load_n(Interval line_n, Interval included_deg) {
  if (auto ok = check_input("line_n", line_n, kForce); !ok) return std::unexpected(ok.error());
  if (auto ok = check_input("included_deg", included_deg, kIncluded); !ok)
    return std::unexpected(ok.error());
  return over_corners([](double line, double included) { return 2 * line * cos_deg(included / 2); },
                      line_n, included_deg);
}

}  // namespace fairlead::physics
