// What the record of a job holds for a report: marks in time, pictures, recorded conditions, gaps.
// Facts only; what they mean for an allegation is decided in conclusion.h.
//
// Threads: values and pure functions. Units: microseconds since 1970 UTC.
#pragma once

#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "reports/job_record.h"

namespace fairlead::reports {

struct PhotoFact {
  std::string view, sha256, media_type, source;
  uint32_t seq = 0;
  int64_t time_us = 0;
  v1::When::Word when = v1::When::UNSET;
  std::vector<std::string> limits;  // "dark", "wet", "dirty"
  bool film = false;
};

struct ConditionFact {
  std::string place, kind, words;
  double size_mm = 0;
  int64_t time_us = 0;
  v1::When::Word when = v1::When::UNSET;
};

struct GapFact {
  std::string channel, cause;
  std::optional<uint64_t> lost;
  int64_t from_us = 0, to_us = 0;  // From the channel's last line before the gap to its next one.
};

/// A stretch that a mark opened and another closed, for shading charts.
struct Stretch {
  std::string words;
  int64_t from_us = 0, to_us = 0;
};

/// A line in time order. Lines that a person took back are kept and flagged.
struct TimedLine {
  int64_t time_us = 0;
  const v1::Observation* line = nullptr;
  bool taken_back = false;
};

struct JobFacts {
  std::vector<TimedLine> lines;  // Marks: without samples, fixes and signs of life.
  int64_t begin_us = 0, end_us = 0;
  std::string vehicle, truck, operator_card;
  std::vector<std::string> procedures;
  std::optional<int64_t> opened, closed, arrived, found, first_touch, loaded, travel, unloaded,
      taken, released, promised;
  std::string released_how;  // "given", "refused", "left", "stored"
  std::vector<PhotoFact> photos;
  std::vector<ConditionFact> conditions;
  std::vector<GapFact> gaps;
  std::vector<Stretch> stretches;
  /// While all wheels were on the deck or lift; the last one until the end of the job if need be.
  std::vector<Stretch> aboard;
  /// When the truck moved off with the car aboard: each time somebody said so; where nobody speaks
  /// of the truck's motion, once a stretch aboard, when its receiver's speed is surely over 0.5
  /// km/h (as the judge's truck.moving). `travel` is the first.
  std::vector<int64_t> departures;
  /// The clamps told by themselves when they touched: their word goes before the operator's.
  bool contacts_measured = false;
};

[[nodiscard]] JobFacts gather_facts(const JobRecord& record);

/// A card's name, or "card ID" where the card is erased or was never sent.
[[nodiscard]] std::string card_name(const JobRecord& record, const std::string& id);

}  // namespace fairlead::reports
