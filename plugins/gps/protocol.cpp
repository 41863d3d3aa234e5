#include "plugins/gps/protocol.h"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <nlohmann/json.hpp>

#include "daemon/base/time_text.h"

namespace fairlead::gps {

namespace {
constexpr size_t kLongestReport = 16 * 1024;
constexpr int64_t kDayUs = 86'400'000'000;
constexpr int64_t kRolloverUs = 1024 * 7 * kDayUs;

Status read_number(const nlohmann::json& report, const char* name, double lo, double hi,
                   std::optional<double>& value) {
  auto member = report.find(name);
  if (member == report.end() || member->is_null()) return {};
  if (!member->is_number()) {
    return fail(Code::kBadInput, std::string(name) + ": is not a number; check gpsd's version");
  }
  double number = member->get<double>();
  if (!std::isfinite(number)) return {};
  if (number < lo || number > hi) {
    return fail(Code::kBadInput, std::string(name) + ": is out of any sense; check the receiver");
  }
  value = number;
  return {};
}

Status read_time(const nlohmann::json& report, Tpv& tpv) {
  auto member = report.find("time");
  if (member == report.end() || !member->is_string()) return {};
  auto time = parse_time_us(member->get_ref<const std::string&>());
  if (!time) return fail_at("time: ", time.error());
  tpv.time_us = *time;
  return {};
}
}  // namespace

bool is_tpv(std::string_view json) { return json.starts_with(R"({"class":"TPV")"); }

Result<Tpv> read_tpv(std::string_view json) {
  if (json.size() > kLongestReport) {
    return fail(Code::kBadInput, "report: too long; check what listens on gpsd's port");
  }
  nlohmann::json report = nlohmann::json::parse(json, nullptr, false);
  if (!report.is_object()) {
    return fail(Code::kBadInput, "report: is no JSON object; check what listens on gpsd's port");
  }
  Tpv tpv;
  if (auto device = report.find("device"); device != report.end() && device->is_string()) {
    tpv.device = device->get<std::string>();
  }
  std::optional<double> mode;
  struct Field {
    const char* name;
    double lo, hi;
    std::optional<double>* value;
  };
  const Field fields[] = {{"mode", 0, 3, &mode},
                          {"lat", -90, 90, &tpv.lat_deg},
                          {"lon", -180, 180, &tpv.lon_deg},
                          {"speed", 0, 1e4, &tpv.speed_mps},
                          {"track", 0, 360, &tpv.track_deg},
                          {"epx", 0, 1e7, &tpv.epx_m},
                          {"epy", 0, 1e7, &tpv.epy_m},
                          {"eph", 0, 1e7, &tpv.eph_m},
                          {"eps", 0, 1e5, &tpv.eps_mps}};
  for (const Field& f : fields) {
    if (auto ok = read_number(report, f.name, f.lo, f.hi, *f.value); !ok) {
      return std::unexpected(ok.error());
    }
  }
  if (!mode) return fail(Code::kBadInput, "mode: is missing; check gpsd's version");
  tpv.mode = static_cast<int>(*mode);
  if (auto ok = read_time(report, tpv); !ok) return std::unexpected(ok.error());
  return tpv;
}

std::optional<v1::Fix> to_fix(const Tpv& tpv) {
  bool whole = tpv.mode >= 2 && tpv.lat_deg && tpv.lon_deg && tpv.speed_mps;
  if (!whole) return std::nullopt;
  v1::Fix fix;
  fix.set_lat_deg(*tpv.lat_deg);
  fix.set_lon_deg(*tpv.lon_deg);
  fix.set_speed_mps(*tpv.speed_mps);
  if (tpv.track_deg) fix.set_course_deg(*tpv.track_deg);
  double sd_m = kUnstatedSdM;
  if (tpv.epx_m && tpv.epy_m) {
    sd_m = std::max(*tpv.epx_m, *tpv.epy_m) / kSigmasOf95;
  } else if (tpv.eph_m) {
    sd_m = *tpv.eph_m / kSigmasOf95;
  }
  fix.set_h_sd_m(sd_m);
  if (tpv.eps_mps) fix.set_speed_sd_mps(*tpv.eps_mps / kSigmasOf95);
  fix.set_mode(static_cast<uint32_t>(tpv.mode));
  return fix;
}

DateVerdict judge_date(int64_t receiver_us, int64_t wall_us) {
  int64_t off_us = std::llabs(receiver_us - wall_us);
  if (off_us <= kDayUs) return DateVerdict::kPlausible;
  for (int64_t turns = 1; turns <= 2; ++turns) {
    if (std::llabs(off_us - turns * kRolloverUs) <= kDayUs) return DateVerdict::kWeekRollover;
  }
  return DateVerdict::kOff;
}

}  // namespace fairlead::gps
