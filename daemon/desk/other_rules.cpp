#include "daemon/desk/other_rules.h"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "daemon/desk/jobs.h"

namespace fairlead::desk {
namespace {

constexpr int kMostFiles = 64;
constexpr size_t kLongestFile = 1 << 20;

struct File {
  v1::Pin pin;
  std::string bytes;
};

Result<std::vector<File>> pinned_files(const Desk& desk, const watch::JobRecord& job) {
  std::vector<File> out;
  for (const v1::Pin& pin : job.pins) {
    const auto sha = array_of<32>(pin.sha256(), "pin");
    if (!sha) return std::unexpected(sha.error());
    auto bytes = desk.ledger().file(*sha);
    if (!bytes) return fail_at("file " + pin.name() + ": ", bytes.error());
    out.push_back({pin, std::move(*bytes)});
  }
  return out;
}

Result<std::vector<File>> given_files(const OtherFiles& files) {
  if (files.size() > kMostFiles) {
    return fail(Code::kBadInput, fmt::format("file: {} of them, at most {} fit; give fewer",
                                             files.size(), kMostFiles));
  }
  std::vector<File> out;
  for (const auto& given : files) {
    if (given.content().size() > kLongestFile)
      return fail(Code::kBadInput, given.name() + ": larger than 1 MiB; split the file");
    const auto kind = watch::kind_of_file(given.name(), given.content());
    if (!kind) return std::unexpected(kind.error());
    File file;
    file.pin.set_name(given.name());
    file.pin.set_kind(*kind);
    file.pin.set_sha256(string_of(sha256(given.content())));
    file.bytes = given.content();
    out.push_back(std::move(file));
  }
  return out;
}

bool is_procedure(const File& file) { return file.pin.kind() == v1::FileKind::PROCEDURE; }

std::vector<File> put_in(std::vector<File> pinned, std::vector<File> given) {
  const bool procedures = std::ranges::any_of(given, is_procedure);
  std::erase_if(pinned, [&](const File& file) {
    if (is_procedure(file)) return procedures;
    return std::ranges::any_of(
        given, [&](const File& other) { return other.pin.name() == file.pin.name(); });
  });
  std::ranges::move(given, std::back_inserter(pinned));
  return pinned;
}

Result<std::vector<judge::Finding>> findings_under(const watch::JobRecord& job,
                                                   const std::vector<File>& files) {
  std::vector<judge::SourceFile> procedures, register_files;
  for (const File& file : files) {
    if (file.pin.kind() == v1::FileKind::POLICY) continue;
    (is_procedure(file) ? procedures : register_files).push_back({file.pin.name(), file.bytes});
  }
  const auto rules = judge::Rulebook::load(procedures, register_files);
  if (!rules) return std::unexpected(rules.error());
  judge::Options options;
  options.job = job.name;
  return judge::judge_job(*rules, job.lines, options);
}

std::string outcome_words(const judge::Finding& finding) {
  if (finding.applies == judge::Applies::kNo) return "does not apply";
  if (finding.verdict == judge::Verdict::kNone) return "may not apply";
  std::string out = judge::word(finding.verdict);
  if (finding.verdict == judge::Verdict::kUnproven)
    out += fmt::format(" ({})", judge::word(finding.reason));
  if (finding.margin_best) {
    out += fmt::format(", margin {} {}", *finding.margin_best, finding.unit);
    if (finding.margin_lo && finding.margin_hi && *finding.margin_lo != *finding.margin_hi)
      out += fmt::format(" ({} to {})", *finding.margin_lo, *finding.margin_hi);
  }
  return out;
}

// By rule alone: the same rule of another version or procedure is what a reader compares.
std::map<std::string, std::string> by_rule(const std::vector<judge::Finding>& findings) {
  std::map<std::string, std::string> out;
  for (const judge::Finding& finding : findings) out[finding.rule] = outcome_words(finding);
  return out;
}

void add_differences(const std::vector<judge::Finding>& pinned,
                     const std::vector<judge::Finding>& other, v1::JudgeJobResponse& response) {
  const auto before = by_rule(pinned), after = by_rule(other);
  const auto add = [&](const std::string& rule, const std::string& was, const std::string& is) {
    auto& difference = *response.add_difference();
    difference.set_rule(rule);
    difference.set_pinned(was);
    difference.set_other(is);
  };
  for (const auto& [rule, words] : before) {
    const auto it = after.find(rule);
    if (it == after.end()) {
      add(rule, words, "no such rule");
    } else if (it->second != words) {
      add(rule, words, it->second);
    }
  }
  for (const auto& [rule, words] : after) {
    if (!before.contains(rule)) add(rule, "no such rule", words);
  }
}

std::set<std::string> hashes_of(const std::vector<File>& files) {
  std::set<std::string> out;
  for (const File& file : files) out.insert(file.pin.sha256());
  return out;
}

}  // namespace

Result<v1::JudgeJobResponse> judge_under(Desk& desk, const watch::JobRecord& job,
                                         const OtherFiles& files) {
  const auto pinned = pinned_files(desk, job);
  if (!pinned) return std::unexpected(pinned.error());
  const auto given = given_files(files);
  if (!given) return std::unexpected(given.error());
  const auto used = put_in(*pinned, *given);
  const auto own = findings_under(job, *pinned);
  if (!own) return std::unexpected(own.error());
  const auto other = findings_under(job, used);
  if (!other) return std::unexpected(other.error());
  v1::JudgeJobResponse response;
  response.set_other_rules(hashes_of(*pinned) != hashes_of(used));
  response.set_heading(response.other_rules()
                           ? "Under other rules than those in force when the job was opened; "
                             "these verdicts are not on record."
                           : "Under the job's own rules.");
  for (const File& file : used) {
    v1::RegisteredFile& out = *response.add_file();
    out.set_sha256(hex_of(file.pin.sha256()));
    out.set_name(file.pin.name());
    out.set_kind(file.pin.kind());
  }
  for (const judge::Finding& finding : *other)
    response.add_finding(judge::finding_to_json(finding));
  add_differences(*own, *other, response);
  return response;
}

Result<v1::JudgeJobResponse> judge_job(Desk& desk, const v1::JudgeJobRequest& request) {
  const auto id = find_job(desk, request.job());
  if (!id) return std::unexpected(id.error());
  const auto job = watch::read_job(desk.ledger(), *id);
  if (!job) return std::unexpected(job.error());
  return judge_under(desk, *job, request.file());
}

}  // namespace fairlead::desk
