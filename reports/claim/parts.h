// Parts of the claim report's JSON. Each function fills one block; claim_report.cpp puts them
// together in the order of the page.
//
// Threads: pure functions.
#pragma once

#include <string>
#include <vector>

#include "reports/claim/answer.h"
#include "reports/json.h"

namespace fairlead::reports {

/// Everything the blocks read.
struct ClaimInput {
  const JobRecord& record;
  const v1::Claim& claim;
  const AllegationTable& table;
  const ReportOptions& options;
  const JobFacts& facts;
  const std::vector<Series>& series;
  const std::vector<Reading>& readings;
  const LocalTime& local;
  const std::vector<Answer>& answers;
  std::optional<int64_t> received_us;
};

// Page 1, in its nine blocks.
[[nodiscard]] Json head_block(const ClaimInput& input);
[[nodiscard]] Json claim_block(const ClaimInput& input);
[[nodiscard]] Json answers_block(const ClaimInput& input);
[[nodiscard]] Json columns_block(const ClaimInput& input);
[[nodiscard]] Json measured_block(const ClaimInput& input);
[[nodiscard]] Json pictures_block(const ClaimInput& input);
/// Of one allegation's place: before first touch and at release, or the words that there is none.
[[nodiscard]] Json place_pictures(const ClaimInput& input, const Answer& answer);
[[nodiscard]] Json settle_block(const ClaimInput& input);
[[nodiscard]] Json record_block(const ClaimInput& input);

// The pages after it.
/// "written between A and B", "written before B", "written after A"; empty when nothing is proven.
[[nodiscard]] std::string bracket_words(const LocalTime& local, const TimeBracket& bracket);
[[nodiscard]] Json timeline_part(const ClaimInput& input);
[[nodiscard]] Json charts_part(const ClaimInput& input);
[[nodiscard]] Json findings_part(const ClaimInput& input);
[[nodiscard]] Json readings_part(const ClaimInput& input);
[[nodiscard]] Json gaps_part(const ClaimInput& input);
[[nodiscard]] Json equipment_part(const ClaimInput& input);
[[nodiscard]] Json photos_part(const ClaimInput& input);

[[nodiscard]] Json certification_part(const ClaimInput& input);

[[nodiscard]] Json around_block(const ClaimInput& input);
/// False where the report was not asked for other rules.
[[nodiscard]] Json other_rules_block(const ClaimInput& input);
[[nodiscard]] Json files_rows(const ClaimInput& input);
/// "on record since 3 Nov 2026 09:00:12, 41 days before the job".
[[nodiscard]] std::string since_words(const ClaimInput& input, const FileInForce& file,
                                      bool with_clock);

/// "F1, F2" as one string.
[[nodiscard]] std::string joined_exhibits(const std::vector<std::string>& exhibits);

}  // namespace fairlead::reports
