// Procedures and register files, read, checked and compiled for judging.
//
// Threads: immutable after load.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "daemon/base/units.h"
#include "daemon/judge/judge.h"
#include "daemon/judge/register_book.h"
#include "fairlead/v1/procedure.pb.h"

namespace fairlead::judge {

/// A limit as a file writes it: a quantity text, a file's field with a fallback, or a quantity.
/// Figures are judged in whole stored units, and a limit need be none: "20 m/min" are 333 1/3 mm/s.
/// It is taken so that no whole figure inside it is accused: to the nearest, as figures are; but
/// `under` takes it up, for 333 is under 333 1/3.
struct Limit {
  std::optional<int64_t> constant;  // Stored units.
  bool up = false;                  // `under`: what is no whole unit is taken to the next above.
  std::string field;                // "vehicle.rolling_speed"; empty = none.
  std::string quantity;             // "line.rating"; empty = none.
  std::string unit;                 // Unit to print in.
  Dimension dimension = Dimension::kCount;
  std::string text;  // As written.
};

enum class Bounds { kUnder, kAtMost, kAtLeast };

struct ComesFirst {
  std::string first, then;
  int64_t min_gap_us = 0;
  bool ever = false;
};
struct LimitInPhase {
  std::string phase, quantity;
  Bounds bounds = Bounds::kUnder;
  Limit limit;
  int64_t sustained_us = 0;
  std::optional<int64_t> longest_gap_us;
};
struct TotalInPhase {
  std::string phase, quantity;
  Bounds bounds = Bounds::kUnder;
  Limit limit;
  v1::Per::Span per = v1::Per::HANDLING;
  std::optional<int64_t> longest_gap_us;
};
struct EnoughStrength {
  std::string phase;
  bool tiedowns = true;                               // Else the rigging.
  int64_t times_mass_ppm = 0, times_mass_up_ppm = 0;  // Rounded down, and up.
  uint32_t least_count = 0;
};
struct EvidencePresent {
  std::vector<std::string> items;
  uint32_t at_least = 0;
  std::string before, after;
  std::optional<int64_t> window_us;
  std::optional<int64_t> radius_mm;
};
struct FollowsWithin {
  std::string after, then;
  int64_t within_us = 0;
};
struct StaysUntil {
  std::string state, until;
  std::optional<Limit> at_least, at_most;
  int64_t bridge_us = 0;
};
struct WaitBetween {
  std::string from, to;
  Bounds bounds = Bounds::kAtLeast;
  Limit wait;
};
/// A short move out of traffic that excuses an overlap: no further, and slower than.
struct MoveClear {
  int64_t distance_mm = 0, speed_mm_s = 0;
  std::string text;
};
struct NeverTogether {
  std::string state, with;
  int64_t tolerate_us = 0;
  std::optional<MoveClear> move_clear;
};
struct RecheckEvery {
  std::string phase, check;
  std::optional<Limit> distance, time, first_distance, first_time;
  bool parked_counts = false;
};
struct CountLimit {
  enum class Kind { kAtMost, kExactly, kAtLeast };
  std::string phase, event;
  Kind kind = Kind::kAtMost;
  int64_t number = 0;
};
struct SourcesAgree {
  std::string phase;
  std::string claim, quantity;  // One of the two.
  std::string with;             // An event or a quantity; a quantity beside `quantity`.
  int64_t within = 0;           // us beside a claim, else in the quantity's stored unit.
  std::string unit;             // Unit to print in.
  Dimension dimension = Dimension::kTime;
};
struct Rule;
struct RuleSet {
  bool all = true;  // Else any.
  std::vector<Rule> rules;
};
using Form = std::variant<ComesFirst, LimitInPhase, TotalInPhase, EnoughStrength, EvidencePresent,
                          FollowsWithin, StaysUntil, WaitBetween, NeverTogether, RecheckEvery,
                          CountLimit, SourcesAgree, RuleSet>;

struct Rule {
  std::string id, title, origin, while_phase, unless;
  std::optional<int64_t> warn_at_ppm;
  Form form;
};

struct Phase {
  std::string id, opens, closes;
  int64_t debounce_us = 0;
  int64_t longest_us = 0;
};

struct Procedure {
  std::string id, version, title, sha256;
  std::vector<Phase> phases;
  std::vector<Rule> rules;
  std::map<std::string, int64_t> longest_age_us;       // Of a fact.
  std::map<std::string, int64_t> fastest_change_mm_s;  // Of a total: how far a hole can hide.
  v1::Procedure text;

  [[nodiscard]] const Phase* phase(const std::string& phase_id) const;
};

struct Rulebook::Content {
  std::vector<Procedure> procedures;
  RegisterBook book;
  std::string register_sha256;
};

/// Reads and compiles one procedure file. Errors: kBadInput, all problems, a line each.
[[nodiscard]] Result<Procedure> compile_procedure(const SourceFile& file);

}  // namespace fairlead::judge
