#include "daemon/desk/sheet.h"

#include "daemon/desk/jobs.h"
#include "daemon/desk/report_files.h"
#include "daemon/desk/report_input.h"
#include "fairlead/v1/record.pb.h"
#include "reports/pdf.h"
#include "reports/sheet/sheet.h"

namespace fairlead::desk {
namespace {

Result<std::vector<v1::ReportFile>> make_files(const Desk& desk, const reports::JobRecord& record,
                                               const reports::ReportOptions& options) {
  const auto json = reports::sheet_json(record, options);
  const auto html = reports::sheet_html(json);
  if (!html) return std::unexpected(html.error());
  reports::PdfOptions pdf;
  pdf.title = json.at("report").at("title");
  pdf.author = options.issuer;
  pdf.program = options.program_version;
  pdf.made_at_us = options.issued_at_us;
  auto pages = desk.make_pdf(*html, pdf);
  if (!pages) return std::unexpected(pages.error());
  return std::vector<v1::ReportFile>{
      report_file("sheet.html", "text/html", *html),
      report_file("sheet.pdf", "application/pdf", std::move(*pages)),
      report_file("sheet.json", "application/json", reports::json_bytes(json)),
      report_file("sheet.csv", "text/csv", reports::sheet_csv(json))};
}

Result<uint64_t> issue(Desk& desk, const record::Id16& job,
                       const std::vector<v1::ReportFile>& files, int64_t issued_us) {
  v1::ReportIssuedBody body;
  body.set_kind(v1::ReportIssuedBody::SHEET);
  body.add_job_id(string_of(job));
  body.set_html_sha256(string_of(sha256(files[0].content())));
  body.set_pdf_sha256(string_of(sha256(files[1].content())));
  body.set_json_sha256(string_of(sha256(files[2].content())));
  body.set_issued_us(issued_us);
  const auto written = desk.office.write(record::Kind::kReportIssued, {}, body);
  if (!written) return std::unexpected(written.error());
  return written->leaf;
}

}  // namespace

Result<v1::WriteSheetResponse> write_sheet(Desk& desk, const v1::WriteSheetRequest& request) {
  const auto job = find_job(desk, request.job());
  if (!job) return std::unexpected(job.error());
  const auto options = report_options(desk, request);
  if (!options) return std::unexpected(options.error());
  const auto record = report_input(desk, *job, false);
  if (!record) return std::unexpected(record.error());
  const auto files = make_files(desk, *record, *options);
  if (!files) return std::unexpected(files.error());
  const auto folder =
      make_report_folder(desk.office.data(), "sheet-" + record->job_id.substr(0, 8));
  if (!folder) return std::unexpected(folder.error());
  if (auto ok = write_report_files(*folder, *files); !ok) return std::unexpected(ok.error());
  v1::WriteSheetResponse response;
  response.mutable_file()->Assign(files->begin(), files->end());
  response.set_folder(*folder);
  if (request.issue()) {
    const auto leaf = issue(desk, *job, *files, options->issued_at_us);
    if (!leaf) return std::unexpected(leaf.error());
    response.set_issued_leaf(*leaf);
  }
  return response;
}

}  // namespace fairlead::desk
