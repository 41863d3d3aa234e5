// Readings: what a claim asks and no rule judges, worked out from a job's lines and files. Each
// says what it rests on; none is a verdict, and one that is inside its limit decides nothing.
//
// A reading is there only where its situation arose: no strap, no reading of straps.
//
// Threads: pure functions over values.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "reports/claim/facts.h"
#include "reports/claim/signals.h"
#include "reports/text.h"

namespace fairlead::reports {

enum class Side { kInside, kOutside, kNotShown, kFigure };  // kFigure: has no limit.

struct Reading {
  std::string id, title;
  Side side = Side::kNotShown;
  std::string value, limit;  // As printed; empty where there is none.
  std::string basis;         // "said", "measured", "worked out".
  std::string words;         // What was read, and what it leaves open.
};

struct ReadingInput {
  const JobRecord& record;
  const JobFacts& facts;
  const std::vector<Series>& series;
  const LocalTime& local;
};

/// In a fixed order: exhibits R1, R2 and on.
[[nodiscard]] std::vector<Reading> readings_of(const ReadingInput& input);
/// Every id there can be, for the check of a table.
[[nodiscard]] const std::vector<std::string>& reading_ids();
/// "inside", "outside", "not shown", "a figure, no limit".
[[nodiscard]] const char* side_words(Side side);

// The groups, each in a file of its own.
void add_custody_readings(const ReadingInput& input, std::vector<Reading>& out);
void add_rigging_readings(const ReadingInput& input, std::vector<Reading>& out);
void add_deck_readings(const ReadingInput& input, std::vector<Reading>& out);
void add_motion_readings(const ReadingInput& input, std::vector<Reading>& out);

/// The job's car in the register; null when it is not there.
[[nodiscard]] const v1::Vehicle* vehicle_of(const ReadingInput& input);
/// Where our gear was by the lines: points, wheels, covers, clamps, doors; empty when nowhere.
[[nodiscard]] std::string gear_places(const JobFacts& facts);
/// "owner, reference order 88"; empty when none is on record.
[[nodiscard]] std::string authority_words(const JobFacts& facts);

}  // namespace fairlead::reports
