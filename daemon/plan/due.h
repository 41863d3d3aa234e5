// What of the register does not count on a day, or soon will not: gear by its dates and defects,
// sensors by their certificates. Dates are whole days in UTC; the last day still counts.
//
// Threads: pure functions.
#pragma once

#include <string>
#include <vector>

#include "daemon/judge/register_book.h"

namespace fairlead::plan {

enum class Due {
  kInOrder,
  kSoon,        // Counts on the day, and no longer at the end of the time looked ahead.
  kNotCounted,  // Out of date, out of service, not yet in service, or void by a defect.
  kUnproven,    // A defect in words nobody wrote a rule for; a sensor without a certificate.
};
[[nodiscard]] std::string_view word_of(Due due);

struct DueItem {
  std::string what;  // "gear" or "sensor".
  std::string id, truck;
  Due due = Due::kInOrder;
  std::string words;  // Until when, or why not.
};

/// All gear and sensors, by id; `days` to look ahead.
[[nodiscard]] std::vector<DueItem> register_due(const judge::RegisterBook& book, int64_t at_us,
                                                int days);

}  // namespace fairlead::plan
