// 12: the findings on record come out the same when the job is judged again, here, under the files
// that were in force when it was opened.
#include <map>

#include "clients/verify/job_lines.h"
#include "clients/verify/on_record.h"
#include "clients/verify/report_rows.h"
#include "clients/verify/steps.h"
#include "daemon/judge/judge.h"
#include "daemon/judge/meaning.h"
#include "daemon/record/json_tree.h"

namespace fairlead::verifier {
namespace {

/// The pinned files as the judge reads them. Errors: a pin the bundle has no bytes for, or files
/// the judge refuses.
Result<judge::Rulebook> pinned_rules(const Case& c) {
  std::map<std::string, std::string_view> by_hash;
  for (const auto& file : c.bundle.files) by_hash[string_of(file.sha256)] = file.bytes;
  std::vector<judge::SourceFile> procedures, register_files;
  for (const v1::Pin& pin : job_pins(c)) {
    if (pin.kind() == v1::FileKind::POLICY) continue;
    const auto found = by_hash.find(pin.sha256());
    if (found == by_hash.end()) {
      return fail(Code::kNotFound, "file " + hex_of(pin.sha256()) + " is not in the bundle");
    }
    auto& group = pin.kind() == v1::FileKind::PROCEDURE ? procedures : register_files;
    group.push_back({pin.name(), std::string(found->second)});
  }
  return judge::Rulebook::load(procedures, register_files);
}

/// The meaning of the rules a recorded finding was judged under; 0 where its line says none.
uint32_t meaning_of(const std::string& line) {
  const auto tree = record::json_tree(line);
  return tree && tree->is_object() ? tree->value("meaning", 0U) : 0;
}

/// What was judged by another reading of the rules can be told again only by a program of that one.
void note_other_meaning(const judge::Finding& here, const std::string& line, Verdicts& verdicts) {
  const auto tree = record::json_tree(line);
  const std::string recorded = tree->value("verdict", "");
  verdicts.add(12, Mark::kNote,
               here.rule + ": not judged again: recorded under meaning " +
                   std::to_string(meaning_of(line)) + " of the rules as '" + recorded +
                   "', this program judges by meaning " + std::to_string(judge::kMeaning) +
                   ", under which it is '" + judge::word(here.verdict) + "'");
}

void compare(const std::vector<judge::Finding>& findings,
             std::map<std::string, RecordedFinding> recorded, Verdicts& verdicts) {
  size_t same = 0;
  for (judge::Finding finding : findings) {
    const auto found = recorded.find(judge::finding_key(finding));
    if (found == recorded.end()) {
      verdicts.add(
          12, Mark::kNote,
          finding.rule + ": judged here as " + judge::word(finding.verdict) + ", not on record");
      continue;
    }
    // How often a finding was revised is history, not judgement.
    finding.revision = found->second.revision;
    const uint32_t meaning = meaning_of(found->second.line);
    if (judge::finding_to_json(finding) == found->second.line) {
      ++same;
    } else if (meaning != 0 && meaning != judge::kMeaning) {
      note_other_meaning(finding, found->second.line, verdicts);
    } else {
      verdicts.add(12, Mark::kDisproven,
                   finding.rule + ": comes out otherwise than recorded; here " +
                       judge::finding_to_json(finding));
    }
    recorded.erase(found);
  }
  for (const auto& [rule, line] : recorded) {
    verdicts.add(12, Mark::kDisproven, rule + ": is on record, but no rule in force gives it");
  }
  if (!verdicts.failed(12)) {
    verdicts.add(12, Mark::kGood, std::to_string(same) + " findings come out the same");
  }
}

/// The report's own table of findings, where the bundle carries a report.
void compare_report(const Case& c, const std::vector<judge::Finding>& findings,
                    Verdicts& verdicts) {
  for (const auto& file : c.bundle.files) {
    if (c.meta.report_sha256() != view_of(file.sha256)) continue;
    if (const uint32_t meaning = report_meaning(file.bytes); meaning != judge::kMeaning) {
      verdicts.add(12, Mark::kNote,
                   "the report's table is of meaning " + std::to_string(meaning) +
                       " of the rules, this program judges by meaning " +
                       std::to_string(judge::kMeaning) + ": not compared");
      continue;
    }
    const std::vector<std::string> differences = report_differences(file.bytes, findings);
    for (const std::string& words : differences) verdicts.add(12, Mark::kDisproven, words);
    if (differences.empty()) {
      verdicts.add(12, Mark::kGood, "the report's table says the same");
    }
  }
}

}  // namespace

void judge_again(const Case& c, Verdicts& verdicts) {
  if (!c.job) return;
  const auto recorded = recorded_findings(c);
  const JobLines lines = job_lines(c);
  if (!lines.trouble.empty()) {
    verdicts.add(12, Mark::kDisproven, "a signed body cannot be read: " + lines.trouble);
  } else if (!lines.whole) {
    verdicts.add(12, Mark::kNote, "not judged again: lines of the job are erased or altered");
  } else if (!c.job->close) {
    verdicts.add(12, Mark::kNote, "not judged again: the job is still open");
  } else if (recorded.empty() && job_pins(c).empty()) {
    verdicts.add(12, Mark::kShown, "no findings on record and no rules in force");
  } else if (auto rules = pinned_rules(c); !rules) {
    verdicts.add(12, Mark::kDisproven,
                 "the files in force cannot be used: " + rules.error().message);
  } else {
    judge::Options options;
    options.job = lines.job;
    const auto findings = judge::judge_job(*rules, lines.lines, options);
    compare(findings, recorded, verdicts);
    compare_report(c, findings, verdicts);
  }
}

}  // namespace fairlead::verifier
