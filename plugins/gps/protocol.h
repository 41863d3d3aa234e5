// gpsd's JSON reports as fixes. Pure: text in, values out.
//
// Confidence: gpsd states its error figures (epx, epy, eph, eps) as 95 % in its manual and guesses
// them where the receiver gives none. They are divided by 1.96 here (95 % of one axis of a normal
// distribution) to give the standard deviation a fix carries. Per axis: the greater of epx and epy;
// without them eph, whose 95 % circle is 2.4477 sd, so that 1.96 only errs to the wide side;
// without any the published worst-site figure of the GPS standard positioning service (15 m at 95 %
// horizontal, SPS performance standard 2020, from memory): 15 / 2.4477 = 6.13 m.
// A receiver's own GST sentence states one standard deviation an axis (NMEA 0183). gpsd 3.22 passes
// it on as it is, and from some receivers copies it into epx and epy, which then are no 95 %
// figures (seen with receiver-03 of the captures). Where GST is there the wider of both counts.
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "daemon/base/result.h"
#include "fairlead/v1/observation.pb.h"

namespace fairlead::gps {

inline constexpr double kSigmasOf95 = 1.96;
inline constexpr double kUnstatedSdM = 15.0 / 2.4477;
/// What the record says about the figures above.
inline constexpr std::string_view kConvention =
    "gpsd's 95 % figures divided by 1.96, or the receiver's own sd (GST) if wider; 6.1 m without";

/// One TPV report; absent and non-finite members are empty.
struct Tpv {
  std::string device;
  int mode = 0;  // 0 unseen, 1 none, 2 2D, 3 3D
  std::optional<int64_t> time_us;
  std::optional<double> lat_deg, lon_deg, speed_mps, track_deg;
  std::optional<double> epx_m, epy_m, eph_m, eps_mps;
};

/// The receiver's own standard deviations, one GST report.
struct Gst {
  std::string device;
  std::optional<int64_t> time_us;
  std::optional<double> lat_sd_m, lon_sd_m;
};

/// Satellites, one SKY report.
struct Sky {
  std::string device;
  std::optional<int> seen, used;
  std::optional<double> hdop;
};

enum class Report { kTpv, kGst, kSky, kOther };
/// By the text: libgps' own `set` mask keeps the bits of the last TPV on other reports.
[[nodiscard]] Report report_class(std::string_view json);

/// Errors: kBadInput naming the member. Numbers out of any sense (|lat| > 90 ...) are errors too.
[[nodiscard]] Result<Tpv> read_tpv(std::string_view json);
[[nodiscard]] Result<Gst> read_gst(std::string_view json);
[[nodiscard]] Result<Sky> read_sky(std::string_view json);

/// Where a fix's error figures come from.
enum class Basis { kUnstated, kGpsd, kReceiver };

struct Position {
  v1::Fix fix;
  Basis basis = Basis::kUnstated;
};
/// Fix of a merged report: mode 2 or 3 with position and speed; nothing otherwise. `gst`: of the
/// same time, if there was one.
[[nodiscard]] std::optional<Position> to_fix(const Tpv& tpv, const std::optional<Gst>& gst = {});

enum class DateVerdict {
  kPlausible,
  kWeekRollover,  // 1024 (or 2048) weeks off: the receiver's or gpsd's week number wrapped.
  kOff,           // Off by more than a day otherwise.
};
/// The receiver's date against this machine's. Positions stay good: fixes are stamped on arrival.
[[nodiscard]] DateVerdict judge_date(int64_t receiver_us, int64_t wall_us);

}  // namespace fairlead::gps
