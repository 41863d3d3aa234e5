// From findings to one of five fixed conclusions an allegation. The rules are few and stand in
// conclude() for anyone to read. No conclusion says that handling caused harm, or did not.
//
// Threads: pure functions.
#pragma once

#include <string>
#include <vector>

#include "fairlead/v1/allegation.pb.h"
#include "reports/claim/facts.h"
#include "reports/claim/readings.h"
#include "reports/claim/signals.h"
#include "reports/job_record.h"

namespace fairlead::reports {

enum class Conclusion { kContradicts, kMakesUnlikely, kDoesNotDecide, kSupportsInPart, kSupports };

/// "The record contradicts it" and so on: the only five there are.
[[nodiscard]] const char* words(Conclusion conclusion);

enum class PlacePictures { kBoth, kBeforeOnly, kAfterOnly, kNone };
enum class PlaceMark { kNamedBefore, kNewAfter, kNotNamed };

/// What pictures and listed marks say about the claimed place.
struct PlaceFacts {
  std::string words;                  // The place in words: the claim's own, else the kind's.
  std::vector<size_t> before, after;  // Indices into JobFacts::photos, best view first.
  PlacePictures pictures = PlacePictures::kNone;
  PlaceMark mark = PlaceMark::kNotNamed;
  std::vector<std::string> limits;        // Of the pictures before: "dark", "wet", "dirty".
  std::optional<double> smallest_before;  // Smallest mark listed anywhere before first touch, mm.
};

/// Pictures of one view ("odometer", "wheel:*") before first touch and at release.
struct ViewFacts {
  std::vector<size_t> before, after;
  PlacePictures pictures = PlacePictures::kNone;
};
[[nodiscard]] ViewFacts view_facts(const std::vector<std::string>& views, const JobFacts& facts);

/// `spot` is the allegation's place as a photo view names it; empty: the kind's own views.
[[nodiscard]] PlaceFacts place_facts(const v1::AllegationKind& kind, const std::string& spot,
                                     const JobFacts& facts);

/// Findings tied to an allegation, by index into JobRecord::findings.
struct Tied {
  std::vector<size_t> deviated, met, open;  // CORE and PART rules that apply or may apply.
  std::vector<size_t> proof_missing;        // PROOF rules that are not met.
  bool core_met = false;                    // At least one CORE rule is met.
  bool core_deviated_measured = false;
  bool all_met_measured = false;  // Every met one rests on a measurement and is settled.
  bool all_calibrated = false;    // Every instrument behind them was in calibration.
  // Readings, by index: outside (CORE, PART), CORE ones not shown, PROOF ones not inside. One that
  // is inside weighs nothing: nobody judged it.
  std::vector<size_t> reading_outside, reading_open, reading_missing;
};

[[nodiscard]] Tied tie(const v1::AllegationKind& kind, const JobRecord& record,
                       const std::vector<Series>& series, const std::vector<Reading>& readings);

/// True when `rule` is `id` or a further finding of it ("strength.count" belongs to "strength").
[[nodiscard]] bool is_rule(const std::string& rule, const std::string& id);

[[nodiscard]] Conclusion conclude(const v1::AllegationKind& kind, const Tied& tied,
                                  const PlaceFacts& place);

}  // namespace fairlead::reports
