// An invented job for the report tests: a jump start with the clamps taken off in the wrong order,
// then a winch-on in two pulls that goes too far. Lines are written as they stand in a .jsonl file.
#pragma once

#include <string>

#include "reports/job_record.h"

namespace fairlead::reports {

struct SampleOptions {
  bool spot_pictures = true;  // Pictures of the front lip before and at release.
  bool gap = true;            // The line's instrument falls silent for a while.
  std::string note = "Customer present.";
};

/// The record with lines, register, cards, pictures and record facts; findings are too_far().
[[nodiscard]] JobRecord sample_job(const SampleOptions& options = {});
/// Findings of that job: distance and off order outside, the rest inside.
[[nodiscard]] std::vector<judge::Finding> too_far();
/// The same with every rule inside its limit and measured.
[[nodiscard]] std::vector<judge::Finding> all_inside();

[[nodiscard]] v1::Claim sample_claim();
[[nodiscard]] ReportOptions sample_options(Paper paper = Paper::kA4);
/// A small striped PNG made by code.
[[nodiscard]] std::string striped_png(unsigned width, unsigned height, unsigned stripe);

/// One finding. Bounds may be empty: then there is none.
[[nodiscard]] judge::Finding finding(const std::string& rule, judge::Verdict verdict,
                                     judge::Basis basis, const std::string& lo,
                                     const std::string& best, const std::string& hi,
                                     const std::string& unit);

}  // namespace fairlead::reports
