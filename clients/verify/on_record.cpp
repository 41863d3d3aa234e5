#include "clients/verify/on_record.h"

#include <nlohmann/json.hpp>

#include "clients/verify/job_lines.h"
#include "daemon/base/time_text.h"

namespace fairlead::verifier {
namespace {

std::string sentence_of(const std::string& line) {
  const auto json = nlohmann::json::parse(line, nullptr, false);
  const auto found = json.is_object() ? json.find("sentence") : json.end();
  return found != json.end() && found->is_string() ? found->get<std::string>() : line;
}

void tell_job(const Case& c, Verdicts& verdicts) {
  std::string words = hex_of(c.job->job_id);
  const std::string name = job_lines(c).job;
  if (!name.empty() && name != words) words = name + " (" + words + ")";
  if (const auto device = c.devices.find(c.job->device_id); device != c.devices.end()) {
    words += ", opened by " + device->second.name;
  }
  for (const Item& item : c.items) {
    if (item.header.device_id == c.job->device_id && record::place_of(item.header) == c.job->open) {
      words += " at " + format_time_us(item.header.wall_us) + " by its own clock";
    }
  }
  verdicts.tell("job", words);
}

}  // namespace

std::map<std::string, RecordedFinding> recorded_findings(const Case& c) {
  std::map<std::string, RecordedFinding> out;
  for (const Item& item : c.items) {
    if (item.header.kind != record::Kind::kFinding || !item.signed_well) continue;
    const auto body = body_as<v1::FindingBody>(item);
    if (!body || body->job_id() != c.meta.job_id()) continue;
    out[body->rule()] = {body->line(), body->revision()};
  }
  return out;
}

void tell_record(const Case& c, Verdicts& verdicts) {
  if (c.job) tell_job(c, verdicts);
  for (const Head& head : c.heads) {
    verdicts.tell("head", "over " + std::to_string(head.checkpoint.size) +
                              " entries, fingerprint " +
                              record::fingerprint_of(head.checkpoint.root) +
                              (head.cosigned_s.empty() ? "" : ", countersigned"));
  }
  for (const auto& [key, finding] : recorded_findings(c)) {
    verdicts.tell("finding", sentence_of(finding.line));
  }
}

}  // namespace fairlead::verifier
