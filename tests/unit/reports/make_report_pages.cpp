// Writes pages for the browser and PDF tests: make_report_pages FOLDER [--pdf] gives the claim
// report as NAME-A4.html, NAME-LETTER.html and NAME.json for the sample job, a job of the scenario,
// the hostile one, and that with 10,000 characters more in every field; with --pdf some of them as
// PDF too, each with a file attached. And summary and sheet, plain and with hostile text:
// summary.html, summary-hostile.html, sheet.html ...
#include <fmt/format.h>

#include <filesystem>
#include <fstream>

#include "reports/claim/claim_report.h"
#include "reports/pdf.h"
#include "reports/pictures.h"
#include "reports/sheet/sheet.h"
#include "reports/summary/summary.h"
#include "tests/unit/reports/hostile_job.h"
#include "tests/unit/reports/sample_job.h"
#include "tests/unit/reports/sample_summary.h"
#include "tests/unit/reports/traced_job.h"

namespace fairlead::reports {

bool g_pdf = false;

namespace {

int write_pdf(const std::filesystem::path& path, const std::string& html,
              const ReportOptions& options) {
  PdfOptions pdf;
  pdf.title = "Claim report";
  pdf.author = options.issuer;
  pdf.program = options.program_version;
  pdf.made_at_us = options.issued_at_us;
  pdf.timeout = std::chrono::seconds(200);
  pdf.attached = {{"bundle.flb", "application/octet-stream", "The record", "Data", "FLB1 sample"}};
  const auto bytes = make_pdf(html, pdf);
  if (!bytes) return fmt::print(stderr, "{}\n", bytes.error().message), 1;
  std::ofstream(path, std::ios::binary) << *bytes;
  return 0;
}

int write(const std::filesystem::path& folder, const std::string& name, const JobRecord& record,
          const v1::Claim& claim, ReportOptions options) {
  const auto table = shipped_allegation_table();
  for (const Paper paper : {Paper::kA4, Paper::kLetter}) {
    options.paper = paper;
    const auto json = claim_report_json(record, claim, *table, options);
    if (!json) return fmt::print(stderr, "{}: {}\n", name, json.error().message), 1;
    const auto pictures = page_pictures(record.attachments);
    if (!pictures) return fmt::print(stderr, "{}: {}\n", name, pictures.error().message), 1;
    const auto html = claim_report_html(*json, *pictures);
    if (!html) return fmt::print(stderr, "{}: {}\n", name, html.error().message), 1;
    const std::string stem = name + (paper == Paper::kA4 ? "-A4" : "-LETTER");
    std::ofstream(folder / (stem + ".html")) << *html;
    // Layout takes seconds: the sample at both sizes, the hostile one on A4, the others on Letter.
    const bool wanted = name == "sample" || (name == "hostile") == (paper == Paper::kA4);
    if (g_pdf && wanted && write_pdf(folder / (stem + ".pdf"), *html, options) != 0) return 1;
    std::ofstream(folder / (name + ".json")) << json_bytes(*json);
  }
  return 0;
}

v1::Claim claim_against_traced() {
  v1::Claim claim = sample_claim();
  claim.clear_allegation();
  for (const char* kind : {"shifted", "attachment", "drive_unit", "missing"}) {
    auto* allegation = claim.add_allegation();
    allegation->set_kind(kind);
    allegation->set_words("as the claimant puts it");
  }
  return claim;
}

int write_page(const std::filesystem::path& path, const Result<std::string>& html) {
  if (!html) return fmt::print(stderr, "{}: {}\n", path.string(), html.error().message), 1;
  std::ofstream(path) << *html;
  return 0;
}

int write_summary(const std::filesystem::path& path, const std::string& text) {
  const auto json = summary_json(sample_summary(text), sample_options());
  if (!json) return fmt::print(stderr, "{}\n", json.error().message), 1;
  return write_page(path, summary_html(*json));
}

int write_all(const std::filesystem::path& folder) {
  const Hostile hostile = hostile_job(Paper::kA4);
  const Hostile whole = hostile_job(Paper::kA4, std::string(10'000, 'w'));
  return write(folder, "sample", sample_job(), sample_claim(), sample_options()) +
         write(folder, "scenario", traced_job("J-102"), claim_against_traced(), sample_options()) +
         write(folder, "hostile", hostile.record, hostile.claim, hostile.options) +
         write(folder, "long", whole.record, whole.claim, whole.options) +
         write_summary(folder / "summary.html", "plain") +
         write_summary(folder / "summary-hostile.html", hostile_text()) +
         write_page(folder / "sheet.html", sheet_html(sheet_json(sample_job(), sample_options()))) +
         write_page(folder / "sheet-hostile.html",
                    sheet_html(sheet_json(hostile.record, hostile.options)));
}

}  // namespace
}  // namespace fairlead::reports

int main(int count, char** words) {
  if (count < 2) return fmt::print(stderr, "usage: make_report_pages FOLDER [--pdf]\n"), 2;
  fairlead::reports::g_pdf = count == 3 && std::string(words[2]) == "--pdf";
  return fairlead::reports::write_all(words[1]) == 0 ? 0 : 1;
}
