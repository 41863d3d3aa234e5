// The whole file of a claim, for counsel, an insurer or an archive.
#include <fmt/format.h>
#include <google/protobuf/util/json_util.h>

#include <algorithm>
#include <filesystem>
#include <fstream>

#include "daemon/desk/bundle.h"
#include "daemon/desk/claim_book.h"
#include "daemon/desk/claim_steps.h"
#include "daemon/desk/report_files.h"
#include "daemon/record/observation_json.h"
#include "daemon/watch/job_record.h"
#include "daemon/watch/stamp.h"
#include "reports/text.h"

namespace fairlead::desk {
namespace {

// A name from outside as part of a file's name: letters, digits, dot, dash.
std::string tame(const std::string& name) {
  std::string out;
  for (const char c : name) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                       c == '.' || c == '-';
    out += plain ? c : '_';
  }
  return out.substr(0, 80);
}

std::string as_text(const v1::Claim& claim) {
  using reports::shown;
  std::string out = fmt::format(
      "Claim {} against job {}\nreceived {}\nstate {}{}\nclock {}\nsum claimed {}\nclaimant {}\n\n"
      "In the claimant's words:\n{}\n\nAllegations:\n",
      claim.claim_id(), claim.job_id(), claim.received(), claim.state(),
      claim.amount().empty() ? "" : ", " + shown(claim.amount()), claim.clock(),
      claim.sum().empty() ? "none stated" : shown(claim.sum()),
      claim.claimant().empty() ? "not named" : shown(claim.claimant()),
      reports::shown_whole(claim.words()));
  for (const auto& a : claim.allegation())
    out += fmt::format("  {}: {}{}\n", a.kind(), shown(a.words()),
                       a.spot().empty() ? "" : " at " + shown(a.spot()));
  out += "\nDocuments handed in:\n";
  for (const auto& document : claim.document()) out += "  " + shown(document) + "\n";
  out += "\nSteps:\n";
  for (const auto& step : claim.step()) {
    out += fmt::format("  {}  entry {}  {}", step.at(), step.leaf_index(), step.kind());
    for (const auto& part : {step.outcome(), step.amount(), step.clock(), step.file_name(),
                             step.sha256(), step.words()}) {
      if (!part.empty()) out += "  " + shown(part);
    }
    out += "\n";
  }
  out += "\nDue:\n";
  for (const auto& due : claim.due())
    out += fmt::format("  {}  {} ({}){}\n", due.due(), due.what(), due.origin(),
                       !due.done().empty() ? ", done " + due.done()
                       : due.overdue()     ? ", overdue"
                                           : "");
  return out + "\nNot legal advice. Whether a due date applies to this claim is for counsel.\n";
}

Status add_evidence(const Desk& desk, const v1::Claim& claim, v1::ExportClaimResponse& out) {
  int number = 0;
  for (const auto& step : claim.step()) {
    if (step.kind() != "EVIDENCE") continue;
    ++number;
    const auto sha = array_of_hex<32>(step.sha256(), "sha256");
    if (!sha || !desk.ledger().has_attachment(*sha))
      continue;  // Erased; claim.json names it still.
    auto bytes = desk.ledger().attachment(*sha);
    if (!bytes) return std::unexpected(bytes.error());
    *out.add_file() = report_file(fmt::format("evidence-{}-{}", number, tame(step.file_name())),
                                  step.media_type(), std::move(*bytes));
  }
  return {};
}

// Reports written for this claim, drafts too, from the base's own disk.
Status add_reports(const Desk& desk, const v1::Claim& claim, v1::ExportClaimResponse& out) {
  const auto root = desk.office.data() / "reports";
  std::error_code error;
  std::vector<std::filesystem::path> paths;
  for (const auto& folder : std::filesystem::directory_iterator(root, error)) {
    if (!folder.path().filename().string().starts_with(claim.claim_id() + "-")) continue;
    for (const auto& file : std::filesystem::directory_iterator(folder.path(), error))
      paths.push_back(file.path());
  }
  std::ranges::sort(paths);
  for (const auto& path : paths) {
    std::ifstream in(path, std::ios::binary);
    std::string bytes{std::istreambuf_iterator<char>(in), {}};
    if (!in) return fail(Code::kIo, path.string() + ": cannot be read; check the data folder");
    *out.add_file() = report_file(
        "report-" + path.parent_path().filename().string() + "-" + path.filename().string(),
        "application/octet-stream", std::move(bytes));
  }
  return {};
}

}  // namespace

Result<v1::ExportClaimResponse> export_claim(Desk& desk, const v1::ExportClaimRequest& request) {
  v1::ClaimStepBody step;
  step.set_claim_id(request.claim_id());
  step.set_kind(v1::ClaimStepBody::EXPORT);
  if (const auto known = claim_named(desk, request.claim_id(), watch::wall_now_us()); !known)
    return std::unexpected(known.error());
  const auto leaf = write_step(desk, std::move(step));
  if (!leaf) return std::unexpected(leaf.error());
  const auto claim = claim_named(desk, request.claim_id(), watch::wall_now_us());
  if (!claim) return std::unexpected(claim.error());
  v1::ExportClaimResponse out;
  out.set_leaf_index(*leaf);
  std::string json;
  google::protobuf::util::JsonPrintOptions options;
  options.add_whitespace = true;
  if (!google::protobuf::util::MessageToJsonString(*claim, &json, options).ok())
    return fail(Code::kInternal, "the claim cannot be written as JSON");
  *out.add_file() = report_file("claim.json", "application/json", std::move(json));
  *out.add_file() = report_file("claim.txt", "text/plain", as_text(*claim));
  if (auto ok = add_evidence(desk, *claim, out); !ok) return std::unexpected(ok.error());
  if (auto ok = add_reports(desk, *claim, out); !ok) return std::unexpected(ok.error());
  const auto job = array_of_hex<16>(claim->job_id(), "job");
  if (!job) return std::unexpected(job.error());
  const auto record = watch::read_job(desk.ledger(), *job);
  if (!record) return std::unexpected(record.error());
  std::string lines;
  for (const auto* part : {&record->lines, &record->foreign, &record->quarantined}) {
    for (const auto& line : *part) lines += record::observation_to_line(line) + "\n";
  }
  *out.add_file() = report_file("job.jsonl", "application/x-ndjson", std::move(lines));
  auto bundle = export_bundle(desk, *job);
  if (!bundle) return std::unexpected(bundle.error());
  *out.add_file() = report_file("bundle.flb", "application/octet-stream", std::move(*bundle));
  return out;
}

}  // namespace fairlead::desk
