#include "clients/sim/nmea.h"

#include <fmt/format.h>

#include <charconv>
#include <chrono>
#include <cmath>

namespace fairlead::sim {

namespace {
// 1 kn = 1852 m / 3600 s, exactly.
constexpr double kMpsPerKnot = 1852.0 / 3600.0;

unsigned checksum(std::string_view body) {
  unsigned sum = 0;
  for (char c : body) sum ^= static_cast<unsigned char>(c);
  return sum;
}

// ddmm.mmmmm,N: five decimals of a minute are 19 mm.
std::string angle(double degrees, int width, char positive, char negative) {
  auto units = static_cast<int64_t>(std::llround(std::abs(degrees) * 60e5));
  int64_t whole_deg = units / 6'000'000;
  int64_t rest = units % 6'000'000;
  return fmt::format("{:0{}}{:02}.{:05},{}", whole_deg, width, rest / 100'000, rest % 100'000,
                     std::signbit(degrees) && units != 0 ? negative : positive);
}

struct Moment {
  std::string time;  // hhmmss.sss
  std::string date;  // ddmmyy
};

Moment moment(int64_t time_us) {
  using namespace std::chrono;
  sys_time<milliseconds> at{milliseconds(time_us / 1000)};
  auto day = floor<days>(at);
  year_month_day date{day};
  hh_mm_ss<milliseconds> clock{at - day};
  return {fmt::format("{:02}{:02}{:02}.{:03}", clock.hours().count(), clock.minutes().count(),
                      clock.seconds().count(), clock.subseconds().count()),
          fmt::format("{:02}{:02}{:02}", static_cast<unsigned>(date.day()),
                      static_cast<unsigned>(date.month()), static_cast<int>(date.year()) % 100)};
}
}  // namespace

std::string sentence(std::string_view body) {
  return fmt::format("${}*{:02X}\r\n", body, checksum(body));
}

bool checksum_holds(std::string_view text) {
  while (!text.empty() && (text.back() == '\n' || text.back() == '\r')) text.remove_suffix(1);
  size_t star = text.rfind('*');
  if (!text.starts_with('$') || star == std::string_view::npos || star + 3 != text.size()) {
    return false;
  }
  unsigned stated = 0;
  const char* end = text.data() + text.size();
  auto [stop, error] = std::from_chars(text.data() + star + 1, end, stated, 16);
  return error == std::errc() && stop == end && stated == checksum(text.substr(1, star - 1));
}

std::string sentences_of(const Epoch& e) {
  Moment at = moment(e.time_us);
  std::string lat = angle(e.lat_deg, 2, 'N', 'S');
  std::string lon = angle(e.lon_deg, 3, 'E', 'W');
  std::string rmc = fmt::format("GPRMC,{},A,{},{},{:.3f},{:.2f},{},,,A", at.time, lat, lon,
                                e.speed_mps / kMpsPerKnot, e.course_deg, at.date);
  std::string gga = fmt::format("GPGGA,{},{},{},1,{:02},{:.1f},{:.1f},M,0.0,M,,", at.time, lat, lon,
                                e.satellites, e.hdop, e.altitude_m);
  double major = std::max(e.lat_sd_m, e.lon_sd_m);
  double minor = std::min(e.lat_sd_m, e.lon_sd_m);
  std::string gst = fmt::format("GPGST,{},{:.1f},{:.2f},{:.2f},{:.1f},{:.2f},{:.2f},{:.2f}",
                                at.time, major, major, minor, e.lat_sd_m >= e.lon_sd_m ? 0.0 : 90.0,
                                e.lat_sd_m, e.lon_sd_m, 2 * major);
  return sentence(rmc) + sentence(gga) + sentence(gst);
}

}  // namespace fairlead::sim
