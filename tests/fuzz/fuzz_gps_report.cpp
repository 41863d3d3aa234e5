// gpsd's reports, a line each: whatever they say, what is recorded holds finite numbers, and what
// is refused says why.

#include <cmath>

#include "plugins/gps/reporter.h"
#include "tests/fuzz/target.h"

namespace fairlead::fuzz {

std::vector<std::string> seeds() {
  return {
      R"({"class":"TPV","device":"d","mode":3,"time":"2022-03-09T15:01:19.000Z","lat":51.068,)"
      R"("lon":-114.0956,"track":194.17,"speed":0.046,"eph":4.4,"epx":3.9,"epy":5.8,"eps":0.9})",
      R"({"class":"TPV","mode":1})",
      "{\"class\":\"GST\",\"device\":\"\",\"time\":\"2022-03-09T15:01:19.000Z\",\"lat\":2,\"lon\":"
      "3}\n"
      "{\"class\":\"TPV\",\"mode\":2,\"time\":\"2022-03-09T15:01:19.000Z\",\"lat\":1,\"lon\":2,"
      "\"speed\":0}",
      R"({"class":"SKY","device":"d","hdop":0.94,"nSat":13,"uSat":8,"satellites":[]})",
  };
}

}  // namespace fairlead::fuzz

namespace {
void check(const std::vector<fairlead::gps::Told>& tellings, int64_t& last_us) {
  using fairlead::fuzz::require;
  for (const auto& told : tellings) {
    require(told.fix || !told.gap.empty() || !told.state.empty(), "something is told");
    require(told.at.mono_us >= last_us, "what is told does not run back");
    last_us = told.at.mono_us;
    if (!told.fix) continue;
    const fairlead::v1::Fix& fix = told.fix->fix;
    for (double number : {fix.lat_deg(), fix.lon_deg(), fix.speed_mps(), fix.course_deg(),
                          fix.h_sd_m(), fix.speed_sd_mps()}) {
      require(std::isfinite(number), "a fix holds numbers");
    }
    require(fix.mode() == 2 || fix.mode() == 3, "a fix has a mode of one");
  }
}
}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const uint8_t* data, size_t size) {
  using namespace fairlead;
  std::string_view text = fuzz::view(data, size);
  gps::Reporter reporter(gps::Receiver{.source = "gps.truck"});
  sdk::Stamp at{1'000'000, 1'000'000};
  int64_t last_us = 0;
  check(reporter.connected(at), last_us);
  while (!text.empty()) {
    std::string_view line = text.substr(0, text.find('\n'));
    text.remove_prefix(std::min(text.size(), line.size() + 1));
    at.mono_us += 50'000;
    at.wall_us += 50'000;
    check(reporter.report(line, at), last_us);
    check(reporter.turn(at), last_us);
  }
  check(reporter.gone("the end", at), last_us);
  const auto tpv = gps::read_tpv(fuzz::view(data, size));
  if (!tpv) fuzz::require(!tpv.error().message.empty(), "a refusal says why");
  return 0;
}
