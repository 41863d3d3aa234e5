// Distances of ours against GeographicLib (Karney 2013), WGS84 geodesics: the judge's flat map of a
// tag's fixes, and the receiver plug-in's sphere. What each may differ by is stated here, not
// fitted.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <GeographicLib/Geodesic.hpp>
#include <cmath>

#include "daemon/judge/job_lines.h"
#include "daemon/judge/tag_fixes.h"
#include "daemon/record/observation_json.h"
#include "plugins/gps/epoch.h"

namespace fairlead {
namespace {

struct Place {
  double lat, lon;
};

Place away(const Place& from, double azimuth_deg, double metres) {
  Place to{};
  GeographicLib::Geodesic::WGS84().Direct(from.lat, from.lon, azimuth_deg, metres, to.lat, to.lon);
  return to;
}

v1::Observation fix_line(uint32_t seq, const Place& place) {
  const auto line = record::observation_from_line(fmt::format(
      R"({{"time":"2026-03-02T10:00:{:02}Z","job":"j","source":"gps.tag","seq":{},"clock":"truck",)"
      R"("fix":{{"latDeg":{:.12f},"lonDeg":{:.12f},"speedMps":0.1,"hSdM":2.5,"mode":3}}}})",
      seq, seq, place.lat, place.lon));
  EXPECT_TRUE(line) << line.error().message;
  return *line;
}

// A roll of up to 200 m at any latitude trucks reach: within 0.02 % and 1 mm, against 1.75 m of
// uncertainty of the tag itself.
TEST(Geodesic, TheJudgesFlatMap) {
  for (const double lat : {-54.8, -33.0, 0.0, 10.0, 37.0, 44.5, 51.0, 64.0, 70.0}) {
    for (const double azimuth : {0.0, 30.0, 90.0, 137.0, 270.0}) {
      for (const double metres : {1.0, 10.0, 60.0, 200.0}) {
        const Place here{lat, 12.5}, there = away(here, azimuth, metres);
        const std::vector<v1::Observation> lines{fix_line(1, here), fix_line(2, there)};
        const judge::JobLines job(lines, "j");
        const auto fixes = judge::tag_fixes(job, judge::kBeginning, judge::kForever).fixes;
        ASSERT_EQ(fixes.size(), 2u);
        const double flat =
            std::hypot(fixes[1].east_m - fixes[0].east_m, fixes[1].north_m - fixes[0].north_m);
        EXPECT_NEAR(flat, metres, metres * 2e-4 + 1e-3) << lat << " " << azimuth;
      }
    }
  }
}

// A sphere of the mean radius is off by 0.56 % at most (the flattening's size), near and far.
TEST(Geodesic, TheReceiversSphere) {
  for (const double lat : {-54.8, 0.0, 37.0, 51.0, 70.0}) {
    for (const double azimuth : {0.0, 45.0, 90.0, 200.0}) {
      for (const double metres : {1.0, 100.0, 10'000.0}) {
        const Place here{lat, -70}, there = away(here, azimuth, metres);
        v1::Fix a, b;
        a.set_lat_deg(here.lat), a.set_lon_deg(here.lon);
        b.set_lat_deg(there.lat), b.set_lon_deg(there.lon);
        EXPECT_NEAR(gps::distance_m(a, b), metres, metres * 0.0057 + 1e-6) << lat << " " << azimuth;
      }
    }
  }
}

}  // namespace
}  // namespace fairlead
