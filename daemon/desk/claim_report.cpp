// Writing a claim report: record in, five files out, REPORT_ISSUED on record.
//
// In this order, so that the bundle holds the entry that names its own pages: the figures, the HTML
// and the PDF without attachments are made and on disk; REPORT_ISSUED names their hashes; the
// bundle is closed over it; the PDF with the bundle inside is made last and is named by nothing.
#include "reports/claim/claim_report.h"

#include <fmt/format.h>

#include "daemon/desk/bundle.h"
#include "daemon/desk/claim_book.h"
#include "daemon/desk/claims.h"
#include "daemon/desk/ledger_desk.h"
#include "daemon/desk/other_rules.h"
#include "daemon/desk/report_brackets.h"
#include "daemon/desk/report_files.h"
#include "daemon/desk/report_input.h"
#include "daemon/watch/stamp.h"
#include "reports/pdf.h"
#include "reports/pictures.h"

namespace fairlead::desk {
namespace {

struct Pages {
  std::string json, html, plain_pdf;
  reports::PdfOptions pdf;
  std::string laid_out;  // Finished twice: without and with the files inside.
};

reports::PdfOptions pdf_options(const reports::ReportOptions& options, const std::string& job) {
  reports::PdfOptions pdf;
  pdf.title = "Claim report, job " + job;
  pdf.author = options.issuer;
  pdf.program = options.program_version;
  pdf.made_at_us = options.issued_at_us;
  return pdf;
}

Result<Pages> make_pages(const reports::JobRecord& record, const v1::Claim& claim,
                         const reports::ReportOptions& options) {
  const auto table = reports::shipped_allegation_table();
  if (!table) return std::unexpected(table.error());
  const auto json = reports::claim_report_json(record, claim, *table, options);
  if (!json) return std::unexpected(json.error());
  const auto pictures = reports::page_pictures(record.attachments);
  if (!pictures) return std::unexpected(pictures.error());
  auto html = reports::claim_report_html(*json, *pictures);
  if (!html) return std::unexpected(html.error());
  Pages pages;
  pages.json = reports::json_bytes(*json);
  pages.html = std::move(*html);
  pages.pdf = pdf_options(options, record.number);
  auto laid_out = reports::lay_out_pdf(pages.html, pages.pdf);
  if (!laid_out) return std::unexpected(laid_out.error());
  pages.laid_out = std::move(*laid_out);
  auto plain = reports::finish_pdf(pages.laid_out, pages.pdf);
  if (!plain) return std::unexpected(plain.error());
  pages.plain_pdf = std::move(*plain);
  return pages;
}

// The bundle, and the pages with it inside.
Result<std::vector<v1::ReportFile>> make_proof(Desk& desk, const record::Id16& job, Pages& pages,
                                               const std::string& head) {
  auto bundle = export_bundle(desk, job, {pages.json, head});
  if (!bundle) return std::unexpected(bundle.error());
  pages.pdf.attached = {{"bundle.flb", "application/octet-stream",
                         "The record of the job, for fairlead-verify", "Data", *bundle},
                        {"report.json", "application/json",
                         "Every figure and sentence of these pages", "Source", pages.json}};
  auto whole = reports::finish_pdf(pages.laid_out, pages.pdf);
  if (!whole) return std::unexpected(whole.error());
  std::vector<v1::ReportFile> files;
  files.push_back(report_file("claim-report.pdf", "application/pdf", std::move(*whole)));
  files.push_back(report_file("bundle.flb", "application/octet-stream", std::move(*bundle)));
  return files;
}

Result<reports::OtherRules> other_rules(Desk& desk, const record::Id16& id,
                                        const OtherFiles& files) {
  const auto job = watch::read_job(desk.ledger(), id);
  if (!job) return std::unexpected(job.error());
  const auto judged = judge_under(desk, *job, files);
  if (!judged) return std::unexpected(judged.error());
  reports::OtherRules out;
  out.heading = judged->heading();
  for (const auto& file : judged->file()) out.files.push_back(file.name() + ", " + file.sha256());
  for (const auto& one : judged->difference())
    out.differences.push_back({one.rule(), one.pinned(), one.other()});
  return out;
}

// What was handed in stands in the list of documents, with its fingerprint.
v1::Claim with_evidence(v1::Claim claim) {
  for (const auto& step : claim.step()) {
    if (step.kind() != "EVIDENCE") continue;
    claim.add_document(fmt::format("{}{}, handed in {}, SHA-256 {}", step.file_name(),
                                   step.words().empty() ? "" : " (" + step.words() + ")",
                                   step.at().substr(0, 10), step.sha256()));
  }
  return claim;
}

Result<uint64_t> issue(Desk& desk, const record::Id16& job, const std::string& claim_id,
                       const Pages& pages, int64_t issued_us) {
  v1::ReportIssuedBody body;
  body.set_kind(v1::ReportIssuedBody::CLAIM);
  body.set_claim_id(claim_id);
  body.add_job_id(string_of(job));
  body.set_json_sha256(string_of(sha256(pages.json)));
  body.set_html_sha256(string_of(sha256(pages.html)));
  body.set_pdf_sha256(string_of(sha256(pages.plain_pdf)));
  body.set_issued_us(issued_us);
  const auto written = desk.office.write(record::Kind::kReportIssued, job, body);
  if (!written) return std::unexpected(written.error());
  return written->leaf;
}

}  // namespace

Result<v1::WriteClaimReportResponse> write_claim_report(
    Desk& desk, const v1::WriteClaimReportRequest& request) {
  auto options = report_options(desk, request);
  if (!options) return std::unexpected(options.error());
  options->draft = request.draft();
  options->draft_recorded = request.draft() && request.record_draft();
  if (request.record_draft() && !request.draft())
    return fail(Code::kBadInput, "record_draft: is about drafts; say draft too, or leave it out");
  v1::GetClaimRequest wanted;
  wanted.set_claim_id(request.claim_id());
  const auto found = get_claim(desk, wanted);
  if (!found) return std::unexpected(found.error());
  const v1::Claim claim = with_evidence(found->claim());
  const auto job = array_of_hex<16>(claim.job_id(), "job");
  if (!job) return std::unexpected(job.error());
  auto record = report_input(desk, *job, true);
  if (!record) return std::unexpected(record.error());
  if (request.under_size() > 0) {
    auto other = other_rules(desk, *job, request.under());
    if (!other) return std::unexpected(other.error());
    record->other_rules = std::move(*other);
  }
  const auto items = check_job_items(desk, *job);
  if (!items) return std::unexpected(items.error());
  const auto ledger = ledger_facts(desk);
  if (!ledger) return std::unexpected(ledger.error());
  record->record.ledger = ledger->ledger;
  record->record.head_size = ledger->head_size;
  record->record.head_root = ledger->head_root;
  record->record.head_at_us = ledger->head_at_us;
  record->record.checked_at_us = watch::wall_now_us();
  record->record.check_result =
      items->problems.empty()
          ? fmt::format("no fault in the {} entries of this job", items->entries)
          : fmt::format("{} faults, first: {}", items->problems.size(), items->problems.front());
  const auto head = name_mailed_head(desk, record->record.last_leaf + 1, record->record);
  if (!head) return std::unexpected(head.error());
  auto pages = make_pages(*record, claim, *options);
  if (!pages) return std::unexpected(pages.error());
  v1::WriteClaimReportResponse response;
  std::vector<v1::ReportFile> files = {
      report_file("claim-report.html", "text/html", pages->html),
      report_file("claim-report-plain.pdf", "application/pdf", pages->plain_pdf),
      report_file("claim-report.json", "application/json", pages->json)};
  const auto folder = make_report_folder(
      desk.office.data(), claim.claim_id() + "-" + time_for_name(options->issued_at_us));
  if (!folder) return std::unexpected(folder.error());
  if (auto ok = write_report_files(*folder, files); !ok) return std::unexpected(ok.error());
  if (!request.draft()) {
    const auto leaf = issue(desk, *job, claim.claim_id(), *pages, options->issued_at_us);
    if (!leaf) return std::unexpected(leaf.error());
    response.set_issued_leaf(*leaf);
  } else if (request.record_draft()) {
    v1::ClaimStepBody draft;
    draft.set_claim_id(claim.claim_id());
    draft.set_kind(v1::ClaimStepBody::DRAFT);
    draft.set_json_sha256(string_of(sha256(pages->json)));
    const auto leaf = write_step(desk, std::move(draft));
    if (!leaf) return std::unexpected(leaf.error());
    response.set_issued_leaf(*leaf);
  }
  auto proof = make_proof(desk, *job, *pages, *head);
  if (!proof) return std::unexpected(proof.error());
  if (auto ok = write_report_files(*folder, *proof); !ok) return std::unexpected(ok.error());
  files.insert(files.begin() + 1, std::move((*proof)[0]));
  files.push_back(std::move((*proof)[1]));
  response.set_folder(*folder);
  response.mutable_file()->Assign(files.begin(), files.end());
  return response;
}

}  // namespace fairlead::desk
