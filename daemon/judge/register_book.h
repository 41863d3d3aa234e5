// Register files compiled to whole numbers: vehicles, gear, trucks, sensors.
//
// Threads: immutable after load.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "daemon/base/result.h"
#include "daemon/judge/judge.h"
#include "daemon/physics/securement.h"
#include "daemon/physics/securement_defects.h"
#include "fairlead/v1/register.pb.h"

namespace fairlead::judge {

/// What one piece of gear may be loaded with. Absent ends: not known.
struct GearRating {
  std::optional<int64_t> lo_g;  // Surely at least; nullopt counts as 0.
  std::optional<int64_t> hi_g;  // Surely at most; nullopt: unbounded.
  bool from_table = false;      // 49 CFR 393.108 default of an unmarked piece.
};

struct GearItem {
  v1::Gear text;
  GearRating wll;
  std::optional<int64_t> anchor_wll_g, anchor_wll_up_g;  // Rounded down, and up.
  std::optional<int64_t> in_service_us, inspect_by_us, out_of_service_us;
  physics::DefectFinding defect;  // What the defect on file means for it.
  /// In service, in date and without a voiding defect at that time: kMet. A piece that is not
  /// never counts (kDeviated); one whose defect nobody can place may not (kUnproven).
  [[nodiscard]] physics::DefectFinding counting(int64_t time_us) const;
  [[nodiscard]] bool usable(int64_t time_us) const {
    return counting(time_us).counts != physics::Verdict::kDeviated;
  }
  /// Instants at which counting() may change.
  [[nodiscard]] std::vector<int64_t> turning_points() const;
};

struct SensorItem {
  v1::Sensor text;
  std::optional<int64_t> sd_share_ppm, sd_milli, tau_us;
  std::optional<int64_t> valid_from_us, valid_until_us;
};

struct WinchLayer {
  int64_t pull_n = 0, pull_up_n = 0;
  int64_t length_mm = 0;  // Rope on the drum up to and with this layer.
};

struct TruckItem {
  v1::Truck text;
  std::optional<int64_t> line_speed_mm_s, line_rating_n, line_rating_up_n;
  std::vector<WinchLayer> layers;  // Innermost first.
};

struct VehicleItem {
  v1::Vehicle text;
  std::optional<int64_t> mass_g, mass_sd_g;
  std::map<std::string, int64_t> fields;     // "vehicle.boost_max" -> stored units, to the nearest.
  std::map<std::string, int64_t> fields_up;  // To the next whole unit above.
  std::map<std::string, std::string> units;  // The unit each was written in.
  std::map<std::string, std::optional<int64_t>> points;  // Rating, N.
  std::map<std::string, int64_t> points_up;
};

/// What the base goes by. Without one in the register the procedure's own words stand alone.
struct BaseItem {
  v1::Base text;
  physics::Jurisdiction rules = physics::Jurisdiction::kUnitedStates;
  physics::VehicleCount tiedowns = physics::VehicleCount::kFour;
};

class RegisterBook {
 public:
  /// Errors: kBadInput, all problems, one a line with file:line:column.
  [[nodiscard]] static Result<RegisterBook> compile(const std::vector<SourceFile>& files);

  [[nodiscard]] const VehicleItem* vehicle(const std::string& id) const;
  [[nodiscard]] const GearItem* gear(const std::string& id) const;
  [[nodiscard]] const TruckItem* truck(const std::string& id) const;
  /// All of them, by id.
  [[nodiscard]] const std::map<std::string, VehicleItem>& vehicles() const { return vehicles_; }
  [[nodiscard]] const std::map<std::string, GearItem>& gear_items() const { return gear_; }
  [[nodiscard]] const std::map<std::string, TruckItem>& trucks() const { return trucks_; }
  [[nodiscard]] const std::vector<SensorItem>& all_sensors() const { return sensors_; }
  /// nullptr where no file says what the base goes by.
  [[nodiscard]] const BaseItem* base() const { return base_ ? &*base_ : nullptr; }
  /// Sensors of a channel on a truck (or of no named truck).
  [[nodiscard]] std::vector<const SensorItem*> sensors(const std::string& channel,
                                                       const std::string& truck) const;

 private:
  std::map<std::string, VehicleItem> vehicles_;
  std::map<std::string, GearItem> gear_;
  std::map<std::string, TruckItem> trucks_;
  std::vector<SensorItem> sensors_;
  std::optional<BaseItem> base_;
};

/// Default working load limit of an unmarked piece by kind and width (49 CFR 393.108, printed kg
/// column, next smaller printed width; steel strapping by width and thickness); nullopt where the
/// rule prints none.
[[nodiscard]] std::optional<int64_t> default_wll_g(v1::GearKind::Word kind,
                                                   const std::string& grade, int64_t width_um,
                                                   int64_t thickness_um = 0);
/// Largest figure of that kind's table; nullopt where there is no table.
[[nodiscard]] std::optional<int64_t> largest_default_wll_g(v1::GearKind::Word kind);

}  // namespace fairlead::judge
