// A job as a line of text, and a finding line cut to what a terminal shows.
#pragma once

#include <string>

#include "fairlead/v1/jobs_service.pb.h"

namespace fairlead::cli {

[[nodiscard]] std::string job_line(const v1::Job& job);
/// Verdict, rule and sentence of a finding's JSON line.
[[nodiscard]] std::string finding_text(const std::string& json_line);

}  // namespace fairlead::cli
