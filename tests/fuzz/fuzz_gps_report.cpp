// gpsd's reports: an accepted one gives finite numbers, whatever it says.

#include <cmath>

#include "plugins/gps/epoch.h"
#include "plugins/gps/protocol.h"
#include "tests/fuzz/target.h"

namespace fairlead::fuzz {

std::vector<std::string> seeds() {
  return {
      R"({"class":"TPV","device":"d","mode":3,"time":"2022-03-09T15:01:19.000Z","lat":51.068,)"
      R"("lon":-114.0956,"track":194.17,"speed":0.046,"eph":4.4,"epx":3.9,"epy":5.8,"eps":0.9})",
      R"({"class":"TPV","mode":1})",
  };
}

}  // namespace fairlead::fuzz

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  using namespace fairlead;
  const auto tpv = gps::read_tpv(fuzz::view(data, size));
  if (!tpv) {
    fuzz::require(!tpv.error().message.empty(), "a refusal says why");
    return 0;
  }
  gps::EpochMerger merger;
  merger.push(*tpv, 0, 0);
  const auto out = merger.flush();
  if (!out.epoch) return 0;
  const v1::Fix& fix = out.epoch->fix;
  for (double number : {fix.lat_deg(), fix.lon_deg(), fix.speed_mps(), fix.course_deg(),
                        fix.h_sd_m(), fix.speed_sd_mps()}) {
    fuzz::require(std::isfinite(number), "a fix holds numbers");
  }
  fuzz::require(fix.mode() == 2 || fix.mode() == 3, "a fix has a mode of one");
  return 0;
}
