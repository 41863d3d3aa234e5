// Voltage classes of vehicles and sources, the window of one vehicle, and what a voltage at the
// clamps hints at.
//
// Bands: ISO 16750-2:2010 tables 1 and 2 (codes A to D of 12 V, E to H of 24 V; read in an
// extract); 48 V after LV 148, VDA 320 and ISO 21780:2020 (bands from memory). Test levels for 12 V
// systems from memory. A vehicle's own window, its file's, goes before any class.
//
// Threads: pure functions over constants. Units: V, s.
#pragma once

#include <optional>
#include <span>
#include <string_view>

#include "daemon/physics/check.h"

namespace fairlead::physics {

enum class VoltageClass { k12 = 12, k24 = 24, k48 = 48 };

/// Volts within what the vehicle's file allows. Errors: kBadInput for a window that is empty, NaN,
/// or outside -100 to 100 V.
[[nodiscard]] Result<Check> check_window(Interval volts, double min_v, double max_v);

/// The source's class must be the vehicle's.
[[nodiscard]] Check check_class(VoltageClass vehicle, VoltageClass source);

struct SupplyCode {
  char code;
  VoltageClass system;
  double min_v, max_v;
};
[[nodiscard]] std::span<const SupplyCode> supply_codes();
[[nodiscard]] std::optional<SupplyCode> supply_code(char code);

/// Bands of a 48 V net (from memory; the edges of three sources differ, so two are intervals).
enum class Band48 {
  kStorageProtection,  // Under 20 to 24 V.
  kLowerLimited,       // To 36 V.
  kUnrestricted,       // 36 to 52 V.
  kUpperLimited,       // To 54 V.
  kOvervoltage,        // To 58 to 60 V.
  kAboveTouchLimit,    // 60 V d.c. and more: touch-voltage class limit.
};
[[nodiscard]] std::string_view word_of(Band48 band);
inline constexpr double kTouchLimitV = 60;
/// Lowest and highest band that the reading may lie in. Errors: kBadInput for NaN or beyond 1 kV.
struct Bands48 {
  Band48 least, most;
};
[[nodiscard]] Result<Bands48> bands_48(Interval volts);

/// What a 12 V system is tested with (ISO 16750-2, from memory): survives, not to be sought.
struct SupplyTest {
  std::string_view name;
  double volts, seconds;
};
[[nodiscard]] std::span<const SupplyTest> supply_tests_12();

/// Load dump test A (read in a journal's table): bounds of the pulse.
struct LoadDump {
  VoltageClass system;
  Interval peak_v, resistance_ohm, milliseconds;
};
[[nodiscard]] std::span<const LoadDump> load_dumps();
inline constexpr int kLoadDumpPulses = 10;
inline constexpr double kLoadDumpEveryS = 60;

// Detector hints. Reversal and the 48 V net computed from the bands above, the rest from memory.
inline constexpr double kReversedBelowV = -0.5;
inline constexpr Interval kHint24V{23, 30};
inline constexpr Interval kHint48V{36, 60};

// What the judge's reading of the clamps (daemon/judge/instrument_boost) goes by. Volts that tell a
// source's class: code C of 12 V, the 24 V codes' upper end, the hint of a 48 V net; the lower end
// of 24 V, like all that follows, is common practice, no source.
inline constexpr Interval kSource12V{9, 16};
inline constexpr Interval kSource24V{20, 32};
inline constexpr Interval kSource48V = kHint48V;
/// Surely reversed; it is over once above kReversedBelowV. Between the two it is what it was.
inline constexpr double kReversedSurelyV = -1;
inline constexpr double kConnectedV = 3, kOffV = 1;
inline constexpr double kShortedBelowV = 2, kShortedA = 50, kShortOverA = 10, kShortOverV = 3;
inline constexpr double kSurgeA = 20, kSurgeOverA = 10;
inline constexpr double kFedV = 13.2, kNotFedV = 12.8;

enum class Hint { kNone, kReversed, k24VoltSource, k48VoltNet };
[[nodiscard]] std::string_view word_of(Hint hint);
/// What clamp volts after connecting say on a job of that class; kNone where the whole reading does
/// not lie in one hint's range.
[[nodiscard]] Hint hint_at(Interval clamp_volts, VoltageClass job);

}  // namespace fairlead::physics
