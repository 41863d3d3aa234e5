#include "daemon/desk/calendar.h"

#include <absl/time/civil_time.h>
#include <absl/time/time.h>

namespace fairlead::desk {
namespace {

Result<absl::TimeZone> zone_of(const std::string& name) {
  absl::TimeZone zone;
  if (!absl::LoadTimeZone(name, &zone))
    return fail(Code::kBadInput, "zone '" + name +
                                     "' is unknown here; write an IANA name such as "
                                     "Europe/Dublin, and install tzdata");
  return zone;
}

absl::CivilDay first_of(Every every, absl::CivilDay day) {
  switch (every) {
    case Every::kWeek:
      return absl::PrevWeekday(day + 1, absl::Weekday::monday);
    case Every::kMonth:
      return absl::CivilDay(day.year(), day.month(), 1);
    case Every::kQuarter:
      break;
  }
  return absl::CivilDay(day.year(), (day.month() - 1) / 3 * 3 + 1, 1);
}

absl::CivilDay next_after(Every every, absl::CivilDay first) {
  if (every == Every::kWeek) return first + 7;
  return absl::CivilDay(absl::CivilMonth(first) + (every == Every::kMonth ? 1 : 3));
}

// The first moment of the day: where midnight is skipped, the moment the clocks jump.
int64_t midnight(absl::CivilDay day, const absl::TimeZone& zone) {
  const auto at = zone.At(absl::CivilSecond(day));
  const absl::Time first = at.kind == absl::TimeZone::TimeInfo::SKIPPED ? at.trans : at.pre;
  return absl::ToUnixMicros(first);
}

}  // namespace

Result<Every> every_of(const std::string& word) {
  if (word == "weekly") return Every::kWeek;
  if (word == "monthly") return Every::kMonth;
  if (word == "quarterly") return Every::kQuarter;
  return fail(Code::kBadInput, "'" + word + "': use weekly, monthly or quarterly");
}

Result<Period> period_at(Every every, const std::string& zone_name, int64_t time_us) {
  const auto zone = zone_of(zone_name);
  if (!zone) return std::unexpected(zone.error());
  const auto day = absl::ToCivilDay(absl::FromUnixMicros(time_us), *zone);
  const absl::CivilDay first = first_of(every, day);
  return Period{midnight(first, *zone), midnight(next_after(every, first), *zone)};
}

Result<std::vector<reports::OffsetSince>> offsets_of(const std::string& zone_name,
                                                     int64_t until_us) {
  const auto zone = zone_of(zone_name);
  if (!zone) return std::unexpected(zone.error());
  std::vector<reports::OffsetSince> out;
  absl::TimeZone::CivilTransition next;
  for (absl::Time at = absl::UnixEpoch(); absl::ToUnixMicros(at) <= until_us;) {
    out.push_back({absl::ToUnixMicros(at), zone->At(at).offset / 60});
    if (!zone->NextTransition(at, &next)) break;
    at = zone->At(next.to).trans;
  }
  return out;
}

}  // namespace fairlead::desk
