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

Status read_time(const nlohmann::json& report, std::optional<int64_t>& time_us) {
  auto member = report.find("time");
  if (member == report.end() || !member->is_string()) return {};
  auto time = parse_time_us(member->get_ref<const std::string&>());
  if (!time) return fail_at("time: ", time.error());
  time_us = *time;
  return {};
}

Result<nlohmann::json> parse(std::string_view json) {
  if (json.size() > kLongestReport) {
    return fail(Code::kBadInput, "report: too long; check what listens on gpsd's port");
  }
  nlohmann::json report = nlohmann::json::parse(json, nullptr, false);
  if (!report.is_object()) {
    return fail(Code::kBadInput, "report: is no JSON object; check what listens on gpsd's port");
  }
  return report;
}

std::string device_of(const nlohmann::json& report) {
  auto device = report.find("device");
  bool named = device != report.end() && device->is_string();
  return named ? device->get<std::string>() : std::string();
}

struct Field {
  const char* name;
  double lo, hi;
  std::optional<double>* value;
};

Status read_fields(const nlohmann::json& report, std::initializer_list<Field> fields) {
  for (const Field& f : fields) {
    if (auto ok = read_number(report, f.name, f.lo, f.hi, *f.value); !ok) return ok;
  }
  return {};
}

std::optional<int> whole(const std::optional<double>& number) {
  return number ? std::optional(static_cast<int>(*number)) : std::nullopt;
}
}  // namespace

Report report_class(std::string_view json) {
  if (json.starts_with(R"({"class":"TPV")")) return Report::kTpv;
  if (json.starts_with(R"({"class":"GST")")) return Report::kGst;
  if (json.starts_with(R"({"class":"SKY")")) return Report::kSky;
  return Report::kOther;
}

Result<Tpv> read_tpv(std::string_view json) {
  auto report = parse(json);
  if (!report) return std::unexpected(report.error());
  Tpv tpv;
  tpv.device = device_of(*report);
  std::optional<double> mode;
  auto ok = read_fields(*report, {{"mode", 0, 3, &mode},
                                  {"lat", -90, 90, &tpv.lat_deg},
                                  {"lon", -180, 180, &tpv.lon_deg},
                                  {"speed", 0, 1e4, &tpv.speed_mps},
                                  {"track", 0, 360, &tpv.track_deg},
                                  {"epx", 0, 1e7, &tpv.epx_m},
                                  {"epy", 0, 1e7, &tpv.epy_m},
                                  {"eph", 0, 1e7, &tpv.eph_m},
                                  {"eps", 0, 1e5, &tpv.eps_mps}});
  if (!ok) return std::unexpected(ok.error());
  if (!mode) return fail(Code::kBadInput, "mode: is missing; check gpsd's version");
  tpv.mode = static_cast<int>(*mode);
  if (auto timed = read_time(*report, tpv.time_us); !timed) return std::unexpected(timed.error());
  return tpv;
}

Result<Gst> read_gst(std::string_view json) {
  auto report = parse(json);
  if (!report) return std::unexpected(report.error());
  Gst gst;
  gst.device = device_of(*report);
  auto ok = read_fields(*report, {{"lat", 0, 1e7, &gst.lat_sd_m}, {"lon", 0, 1e7, &gst.lon_sd_m}});
  if (!ok) return std::unexpected(ok.error());
  if (auto timed = read_time(*report, gst.time_us); !timed) return std::unexpected(timed.error());
  return gst;
}

Result<Sky> read_sky(std::string_view json) {
  auto report = parse(json);
  if (!report) return std::unexpected(report.error());
  Sky sky;
  sky.device = device_of(*report);
  std::optional<double> seen, used;
  auto ok = read_fields(
      *report, {{"nSat", 0, 1000, &seen}, {"uSat", 0, 1000, &used}, {"hdop", 0, 1e4, &sky.hdop}});
  if (!ok) return std::unexpected(ok.error());
  sky.seen = whole(seen);
  sky.used = whole(used);
  return sky;
}

std::optional<Position> to_fix(const Tpv& tpv, const std::optional<Gst>& gst) {
  bool complete = tpv.mode >= 2 && tpv.lat_deg && tpv.lon_deg && tpv.speed_mps;
  if (!complete) return std::nullopt;
  Position out;
  v1::Fix& fix = out.fix;
  fix.set_lat_deg(*tpv.lat_deg);
  fix.set_lon_deg(*tpv.lon_deg);
  fix.set_speed_mps(*tpv.speed_mps);
  if (tpv.track_deg) fix.set_course_deg(*tpv.track_deg);
  std::optional<double> sd_m;
  if (tpv.epx_m && tpv.epy_m) {
    sd_m = std::max(*tpv.epx_m, *tpv.epy_m) / kSigmasOf95;
  } else if (tpv.eph_m) {
    sd_m = *tpv.eph_m / kSigmasOf95;
  }
  if (sd_m) out.basis = Basis::kGpsd;
  if (gst && gst->lat_sd_m && gst->lon_sd_m) {
    double own_m = std::max(*gst->lat_sd_m, *gst->lon_sd_m);
    if (own_m > 0 && (!sd_m || own_m >= *sd_m)) {
      sd_m = own_m;
      out.basis = Basis::kReceiver;
    }
  }
  fix.set_h_sd_m(sd_m.value_or(kUnstatedSdM));
  if (tpv.eps_mps) fix.set_speed_sd_mps(*tpv.eps_mps / kSigmasOf95);
  fix.set_mode(static_cast<uint32_t>(tpv.mode));
  return out;
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
