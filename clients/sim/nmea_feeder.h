// A receiver on a TCP port: `gpsd -N tcp://127.0.0.1:PORT` reads it like a real one.
#pragma once

#include "clients/sim/track.h"
#include "daemon/base/result.h"

namespace fairlead::sim {

struct FeederOptions {
  int port = 0;
  double rate_hz = 1;
  /// End when the profile is over; otherwise the last state goes on until a signal.
  bool once = false;
};

/// Serves until a signal (or the profile's end). The profile starts with the first client; with no
/// client time stands still. Errors: kIo.
Status feed_nmea(Track track, double length_s, const FeederOptions& options);

}  // namespace fairlead::sim
