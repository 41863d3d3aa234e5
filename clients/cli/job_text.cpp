#include "clients/cli/job_text.h"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

namespace fairlead::cli {

namespace {

std::string disk_words(const v1::Job& job) {
  std::string words;
  if (job.recovered_lines() > 0)
    words += fmt::format("  {} lines brought in again", job.recovered_lines());
  if (job.bodies_lost() > 0) words += fmt::format("  {} bodies lost", job.bodies_lost());
  return words.empty() ? words : words + " after the truck's disk was put back";
}

}  // namespace

std::string job_line(const v1::Job& job) {
  const std::string state = job.ordered_only()         ? "ordered"
                            : !job.closed_at().empty() ? job.outcome()
                                                       : "open";
  const std::string quarantined =
      job.quarantined() == 0
          ? ""
          : fmt::format("  {} lines after its key was revoked, not judged", job.quarantined());
  return fmt::format("{}  {:<12} {:<10} {:<12} {:<10} met {} deviated {} unproven {}{}{}{}",
                     job.job_id().substr(0, 8), job.number().empty() ? "-" : job.number(),
                     job.truck().empty() ? "-" : job.truck(), job.vehicle(), state, job.met(),
                     job.deviated(), job.unproven(), job.imported() ? "  imported" : "",
                     job.settled() ? "" : "  not settled", quarantined) +
         disk_words(job);
}

std::string finding_text(const std::string& json_line) {
  const auto finding = nlohmann::json::parse(json_line, nullptr, /*allow_exceptions=*/false);
  if (!finding.is_object()) return json_line;
  const std::string verdict = finding.value("verdict", "");
  return fmt::format("{:<9} {:<22} {}", verdict.empty() ? "-" : verdict, finding.value("rule", ""),
                     finding.value("sentence", ""));
}

}  // namespace fairlead::cli
