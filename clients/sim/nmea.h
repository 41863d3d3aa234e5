// NMEA 0183 sentences as a receiver sends them. Pure: values in, text out, and the checksum back.
// Checksum: XOR of all characters between '$' and '*', two hex digits (NMEA 0183).
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

namespace fairlead::sim {

/// One epoch of a receiver.
struct Epoch {
  int64_t time_us = 0;  // UTC since 1970.
  double lat_deg = 0;
  double lon_deg = 0;
  double altitude_m = 0;
  double speed_mps = 0;
  double course_deg = 0;
  double lat_sd_m = 1;  // Standard deviations, for GST.
  double lon_sd_m = 1;
  int satellites = 10;
  double hdop = 0.9;
};

/// "$" + body + "*hh\r\n". `body` as between '$' and '*'.
[[nodiscard]] std::string sentence(std::string_view body);
/// True when the sentence's checksum stands and is right; line ends do not matter.
[[nodiscard]] bool checksum_holds(std::string_view sentence);

/// RMC, GGA and GST of one epoch, in the order a receiver sends them.
[[nodiscard]] std::string sentences_of(const Epoch& epoch);

}  // namespace fairlead::sim
