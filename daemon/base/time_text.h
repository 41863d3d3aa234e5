// Times as people and files write them (RFC 3339, UTC) and as we keep them: signed microseconds
// since 1970-01-01T00:00:00Z, no leap seconds.
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead {

/// Reads RFC 3339 with a zone ("Z" or "+01:00") and up to six decimals of a second; more decimals
/// are refused, as they would be lost. A second of 60 is read as 59.999999.
/// Errors: kBadInput, years outside 1970..9999 included.
[[nodiscard]] Result<int64_t> parse_time_us(std::string_view text);

/// "2026-03-02T10:05:03.000000Z", always six decimals.
[[nodiscard]] std::string format_time_us(int64_t time_us);

/// A span as people say it: "90 s", "10 min", "3 h"; the larger unit only where it is whole.
[[nodiscard]] std::string span_words(int64_t span_us);

/// Reads an ISO 8601 calendar date ("2026-12-31") as its first microsecond in UTC.
[[nodiscard]] Result<int64_t> parse_date_us(std::string_view text);

}  // namespace fairlead
