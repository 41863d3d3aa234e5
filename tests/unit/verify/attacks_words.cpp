// Findings and pages: what people read. The record's part of them is caught; for the words
// themselves the verifier says what it did not check.
#include <nlohmann/json.hpp>

#include "daemon/judge/meaning.h"
#include "tests/unit/verify/attack_scene.h"

namespace fairlead {
namespace {

using nlohmann::json;
using record::Kind;

v1::FindingBody finding(const Scene& s) {
  v1::FindingBody body;
  body.ParseFromString(s.job.base.leaves[s.job.finding_leaf].body);
  return body;
}

/// A later finding under the service key, in place of or beside what the judge gave.
std::function<void(Scene&)> later_finding(std::function<void(v1::FindingBody&)> change) {
  return [change = std::move(change)](Scene& s) {
    s.record_job();
    v1::FindingBody body = finding(s);
    change(body);
    body.set_revision(2);
    s.job.base.write(s.job.base.service, Kind::kFinding, body.SerializeAsString(), s.job.id);
    s.rewrite_as(s.history());
  };
}

void replace(std::string& text, const std::string& from, const std::string& to) {
  const size_t at = text.find(from);
  ASSERT_NE(at, std::string::npos) << text;
  text.replace(at, from.size(), to);
}

/// The report's figures as the base's report writer shapes them, from the findings on record.
std::string figures(const Scene& s) {
  json rows = json::array();
  for (const Leaf& leaf : s.job.base.leaves) {
    if (leaf.header.kind != Kind::kFinding) continue;
    v1::FindingBody body;
    body.ParseFromString(leaf.body);
    const json line = json::parse(body.line());
    rows.push_back({{"procedure", "short"},
                    {"rule", line["rule"]},
                    {"applies", line["applies"]},
                    {"verdict", line["verdict"]},
                    {"outside", line["verdict"] == "deviated"}});
  }
  return json({{"findings", {{"rows", rows}, {"meaning", judge::kMeaning}}}}).dump();
}

/// The bundle of a report whose JSON and pages are on record as issued.
void issue_report(Scene& s, const std::string& report, const std::string& plain_pdf) {
  v1::ReportIssuedBody body;
  body.set_kind(v1::ReportIssuedBody::CLAIM);
  body.set_claim_id("C-1");
  body.set_json_sha256(string_of(sha256(report)));
  body.set_pdf_sha256(string_of(sha256(plain_pdf)));
  s.job.base.write(s.job.base.admin, Kind::kReportIssued, body.SerializeAsString(), s.job.id);
  s.rewrite_as(s.history());
}

void carry(Scene& s, const std::string& report) {
  s.bundle.files.push_back({sha256(report), s.keep(report)});
  std::ranges::sort(s.bundle.files, {}, &record::BundleFile::sha256);
  s.change_meta([&](v1::BundleMeta& m) { m.set_report_sha256(string_of(sha256(report))); });
}

std::vector<Attack> on_findings() {
  return {
      {"turn a deviation into met", By::kBundle, 12, "otherwise than recorded",
       later_finding([](v1::FindingBody& body) {
         std::string line = body.line();
         replace(line, "\"deviated\"", "\"met\"");
         body.set_line(line);
       })},
      {"change a finding's sentence", By::kBundle, 12, "otherwise than recorded",
       later_finding([](v1::FindingBody& body) {
         std::string line = body.line();
         replace(line, "deviated:", "met:");
         body.set_line(line);
       })},
      {"pass a deviation off as met by an older reading of the rules", By::kWords, 12,
       "not judged again", later_finding([](v1::FindingBody& body) {
         std::string line = body.line();
         replace(line, "\"deviated\"", "\"met\"");
         replace(line, "\"meaning\":" + std::to_string(judge::kMeaning), "\"meaning\":1");
         body.set_line(line);
       })},
      {"invent a finding", By::kBundle, 12, "no rule in force gives it",
       later_finding([](v1::FindingBody& body) { body.set_rule("short/driver_was_drunk"); })},
      {"leave the findings out", By::kWords, 12, "not on record",
       [](Scene& s) {
         s.record_job();
         std::vector<Leaf> log = s.history();
         std::erase_if(log, [](const Leaf& l) { return l.header.kind == Kind::kFinding; });
         s.rewrite_as(std::move(log));
       }},
  };
}

std::vector<Attack> on_pages() {
  return {
      {"change a row of the report's figures", By::kBundle, 12, "otherwise than the record",
       [](Scene& s) {
         s.record_job();
         s.make_bundle();
         std::string report = figures(s);
         replace(report, "\"outside\":true", "\"outside\":false");
         carry(s, report);
       }},
      {"leave a row of the report's figures out", By::kBundle, 12, "leaves it out",
       [](Scene& s) {
         s.record_job();
         s.make_bundle();
         json report = json::parse(figures(s));
         report["findings"]["rows"].erase(0);
         carry(s, report.dump());
       }},
      {"pass the report's figures off as judged by an older reading", By::kWords, 12,
       "not compared",
       [](Scene& s) {
         s.record_job();
         s.make_bundle();
         json report = json::parse(figures(s));
         report["findings"]["meaning"] = 1;
         report["findings"]["rows"].erase(0);
         carry(s, report.dump());
       }},
  };
}

std::vector<Attack> on_files() {
  return {
      {"name figures the bundle does not carry", By::kBundle, 11, "are missing",
       [](Scene& s) {
         s.record_job();
         s.make_bundle();
         s.change_meta([&](v1::BundleMeta& m) { m.set_report_sha256(std::string(32, 'x')); });
       }},
      {"edit the words of a PDF that is on record", By::kBundle, 11, "none of the files",
       [](Scene& s) {
         s.record_job();
         const std::string pdf = "%PDF-1.7 the pages, " + std::to_string(s.random());
         issue_report(s, figures(s), pdf);
         s.pages.push_back({"claim-report-plain.pdf", sha256(s.flipped(pdf))});
       }},
      {"edit the words of a PDF before its report is on record", By::kWords, 11,
       "cannot be compared",
       [](Scene& s) {
         s.record_job();
         s.make_bundle();
         carry(s, figures(s));
         s.pages.push_back({"claim-report-plain.pdf", sha256("other words")});
       }},
      {"edit the words of a PDF that carries its bundle", By::kWords, kAlways,
       "Not checked: the words on these pages",
       [](Scene& s) {
         s.record_job();
         s.make_bundle();
         carry(s, figures(s));
       }},
      {"bundle another job under this one's name", By::kBundle, 6, "JOB_OPEN is not in",
       [](Scene& s) {
         s.record_job();
         s.make_bundle();
         s.change_meta([&](v1::BundleMeta& m) { m.set_job_id(string_of(s.job.other)); });
       }},
      {"name another device as the job's", By::kBundle, 6, "JOB_OPEN is not in",
       [](Scene& s) {
         s.record_job();
         s.make_bundle();
         s.change_meta([&](v1::BundleMeta& m) { m.set_device_id(std::string(16, 'd')); });
       }},
      {"say the job never ended", By::kWords, 6, "still open",
       [](Scene& s) {
         s.record_job();
         s.make_bundle();
         for (uint64_t leaf = s.job.close_leaf; leaf <= s.job.close_leaf + 1; ++leaf) s.drop(leaf);
       }},
  };
}

}  // namespace

std::vector<Attack> attacks_on_words() {
  std::vector<Attack> out = on_findings();
  for (Attack& attack : on_pages()) out.push_back(std::move(attack));
  for (Attack& attack : on_files()) out.push_back(std::move(attack));
  return out;
}

}  // namespace fairlead
