// Periods of a schedule in the owner's time zone: whole weeks from Monday, months, quarters, each
// from midnight to midnight there, whatever summer time does.
//
// Threads: pure functions of their arguments and the system's zone files. Units: microseconds since
// 1970 UTC. Errors: kBadInput for a zone the system does not know, naming it.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "daemon/base/result.h"
#include "reports/text.h"

namespace fairlead::desk {

struct Period {
  int64_t from_us = 0, to_us = 0;
  bool operator==(const Period&) const = default;
};

enum class Every { kWeek, kMonth, kQuarter };
/// Of "weekly", "monthly", "quarterly". Errors: kBadInput.
[[nodiscard]] Result<Every> every_of(const std::string& word);

/// The period that holds this moment.
[[nodiscard]] Result<Period> period_at(Every every, const std::string& zone, int64_t time_us);
/// The zone's offsets from 1970 until `until_us`, each from the moment it came in force.
[[nodiscard]] Result<std::vector<reports::OffsetSince>> offsets_of(const std::string& zone,
                                                                   int64_t until_us);

}  // namespace fairlead::desk
