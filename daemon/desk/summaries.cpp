#include "daemon/desk/summaries.h"

#include <algorithm>
#include <iterator>
#include <unordered_map>

#include "daemon/base/time_text.h"
#include "daemon/desk/claims.h"
#include "daemon/desk/report_brackets.h"
#include "daemon/desk/report_files.h"
#include "daemon/desk/report_input.h"
#include "daemon/desk/summary_jobs.h"
#include "daemon/judge/text_file.h"
#include "reports/pdf.h"
#include "reports/summary/summary.h"

namespace fairlead::desk {
namespace {

Result<int64_t> bound(const char* field, const std::string& text) {
  if (const auto time = parse_time_us(text)) return *time;
  if (const auto day = parse_date_us(text)) return *day;
  return fail(Code::kBadInput, std::string(field) + ": '" + text +
                                   "' is neither a date nor RFC 3339; write 2027-01-01");
}

// The fleet's own past, to hold the span against.
constexpr int64_t kPast_us = 365LL * 86'400'000'000;

Status add_jobs(Desk& desk, reports::SummaryInput& input) {
  desk.progress->read = desk.progress->jobs = 0;
  input.past_from_us = input.from_us - std::max(kPast_us, input.to_us - input.from_us);
  // At once, so that what the watch knows is copied once.
  auto all = summary_jobs(desk, input.past_from_us, input.to_us);
  if (!all) return std::unexpected(all.error());
  const auto now =
      std::ranges::lower_bound(*all, input.from_us, {}, &reports::SummaryJob::opened_us);
  input.jobs.assign(std::make_move_iterator(now), std::make_move_iterator(all->end()));
  all->erase(now, all->end());
  input.past = std::move(*all);
  desk.progress->jobs = 0;
  return {};
}

reports::SummaryClaim claim_of(const v1::Claim& claim, int64_t opened_us, int64_t received_us) {
  reports::SummaryClaim out;
  out.job_opened_us = opened_us;
  out.received_us = received_us;
  for (const auto& allegation : claim.allegation()) out.kinds.push_back(allegation.kind());
  if (claim.state() == "ACCEPTED" || claim.state() == "PARTLY") {
    out.state = reports::ClaimState::kPaid;
    out.paid = claim.amount();
  } else if (claim.state() == "DECLINED") {
    out.state = reports::ClaimState::kDeclined;
  } else if (claim.state() == "WITHDRAWN") {
    out.state = reports::ClaimState::kWithdrawn;
  }
  return out;
}

Status add_claims(Desk& desk, reports::SummaryInput& input) {
  const auto claims = list_claims(desk, {});
  if (!claims) return std::unexpected(claims.error());
  std::unordered_map<std::string, int64_t> now, before;
  for (const auto& job : input.jobs) now[job.job_id] = job.opened_us;
  for (const auto& job : input.past) before[job.job_id] = job.opened_us;
  for (const auto& claim : claims->claim()) {
    const auto received = parse_time_us(claim.received());
    if (!received) continue;
    if (const auto it = now.find(claim.job_id()); it != now.end())
      input.claims.push_back(claim_of(claim, it->second, *received));
    if (const auto it = before.find(claim.job_id()); it != before.end())
      input.past_claims.push_back(claim_of(claim, it->second, *received));
  }
  return {};
}

Status add_unjobbed(Desk& desk, reports::SummaryInput& input) {
  const auto works = desk.watch.unjobbed(input.from_us, input.to_us);
  if (!works) return std::unexpected(works.error());
  input.unrecorded_work = static_cast<uint32_t>(works->size());
  return {};
}

Status add_register(const Desk& desk, reports::SummaryInput& input) {
  for (const auto& file : desk.shelf.in_force()) {
    if (file.pin.kind() == v1::FileKind::PROCEDURE || file.pin.kind() == v1::FileKind::POLICY)
      continue;
    const auto sha = array_of<32>(file.pin.sha256(), "pin");
    if (!sha) return std::unexpected(sha.error());
    const auto bytes = desk.ledger().file(*sha);
    if (!bytes) return std::unexpected(bytes.error());
    v1::Register more;
    if (auto ok = judge::parse_text_file({file.pin.name(), *bytes}, more); !ok) return ok;
    input.register_files.MergeFrom(more);
  }
  return {};
}

Result<reports::SummaryInput> gather(Desk& desk, const v1::WriteSummaryRequest& request,
                                     const SummaryFor& whom) {
  const auto from = bound("from", request.from());
  if (!from) return std::unexpected(from.error());
  const auto to = bound("to", request.to());
  if (!to) return std::unexpected(to.error());
  reports::SummaryInput input;
  input.from_us = *from;
  input.to_us = *to;
  if (request.has_jobs_invoiced()) input.jobs_invoiced = request.jobs_invoiced();
  input.preview = request.preview();
  input.own_copy = request.own_copy();
  input.recipients = whom.recipients;
  for (const auto step : {add_jobs, add_claims, add_unjobbed}) {
    if (auto ok = step(desk, input); !ok) return std::unexpected(ok.error());
  }
  if (auto ok = add_register(desk, input); !ok) return std::unexpected(ok.error());
  auto facts = ledger_facts(desk);
  if (!facts) return std::unexpected(facts.error());
  input.record = std::move(*facts);
  if (auto ok = add_standing(desk, input); !ok) return std::unexpected(ok.error());
  if (auto ok = name_mailed_head(desk, input.record.head_size, input.record); !ok)
    return std::unexpected(ok.error());
  return input;
}

Result<uint64_t> issue(Desk& desk, const std::vector<v1::ReportFile>& files,
                       const reports::SummaryInput& input, int64_t issued_us) {
  v1::ReportIssuedBody body;
  body.set_kind(v1::ReportIssuedBody::SUMMARY);
  const auto sha = [&](size_t i) { return string_of(sha256(files[i].content())); };
  body.set_html_sha256(sha(0));
  body.set_pdf_sha256(sha(1));
  body.set_json_sha256(sha(2));
  body.set_issued_us(issued_us);
  body.set_from_us(input.from_us);
  body.set_until_us(input.to_us);
  const auto written = desk.office.write(record::Kind::kReportIssued, {}, body);
  if (!written) return std::unexpected(written.error());
  return written->leaf;
}

Result<std::vector<v1::ReportFile>> make_files(const Desk& desk, const reports::SummaryInput& input,
                                               const reports::ReportOptions& options) {
  const auto json = reports::summary_json(input, options);
  if (!json) return std::unexpected(json.error());
  const auto html = reports::summary_html(*json);
  if (!html) return std::unexpected(html.error());
  reports::PdfOptions pdf;
  pdf.title = "Compliance summary";
  pdf.author = options.issuer;
  pdf.program = options.program_version;
  pdf.made_at_us = options.issued_at_us;
  auto pages = desk.make_pdf(*html, pdf);
  if (!pages) return std::unexpected(pages.error());
  std::vector<v1::ReportFile> files = {
      report_file("summary.html", "text/html", *html),
      report_file("summary.pdf", "application/pdf", std::move(*pages)),
      report_file("summary.json", "application/json", reports::json_bytes(*json)),
      report_file("summary.csv", "text/csv", reports::summary_csv(*json)),
      report_file("claims.csv", "text/csv", reports::summary_claims_csv(*json)),
      report_file("change.csv", "text/csv", reports::summary_change_csv(*json))};
  // Ready to be sent: what the countersigner is asked, and what it signed last.
  if (!input.standing.request.empty())
    files.push_back(report_file("head.request", "text/plain", input.standing.request));
  if (!input.standing.cosigned.empty())
    files.push_back(report_file("head-countersigned.note", "text/plain", input.standing.cosigned));
  return files;
}

}  // namespace

Result<v1::WriteSummaryResponse> write_summary(Desk& desk, const v1::WriteSummaryRequest& request,
                                               const SummaryFor& whom) {
  const auto options = report_options(desk, request);
  if (!options) return std::unexpected(options.error());
  const auto input = gather(desk, request, whom);
  if (!input) return std::unexpected(input.error());
  auto files = make_files(desk, *input, *options);
  if (!files) return std::unexpected(files.error());
  v1::WriteSummaryResponse response;
  response.mutable_file()->Assign(files->begin(), files->end());
  if (request.preview()) return response;
  std::string folder = whom.folder.string();
  if (folder.empty()) {
    const auto made = make_report_folder(
        desk.office.data(), "summary-" + time_for_name(input->from_us).substr(0, 8) + "-" +
                                time_for_name(input->to_us).substr(0, 8));
    if (!made) return std::unexpected(made.error());
    folder = *made;
  }
  if (auto ok = write_report_files(folder, *files); !ok) return std::unexpected(ok.error());
  const auto leaf = issue(desk, *files, *input, options->issued_at_us);
  if (!leaf) return std::unexpected(leaf.error());
  response.set_folder(folder);
  response.set_issued_leaf(*leaf);
  return response;
}

v1::GetProgressResponse summary_progress(const Desk& desk) {
  v1::GetProgressResponse response;
  response.set_jobs_read(desk.progress->read);
  response.set_jobs(desk.progress->jobs);
  return response;
}

Result<v1::ListSummariesResponse> list_summaries(Desk& desk, const v1::ListSummariesRequest&) {
  constexpr size_t kPage = 256;
  v1::ListSummariesResponse response;
  for (uint64_t from = 0;;) {
    const auto page = desk.ledger().entries_of_kind(record::Kind::kReportIssued, from, kPage);
    if (!page) return std::unexpected(page.error());
    for (const auto& entry : *page) {
      v1::ReportIssuedBody body;
      if (!body.ParseFromString(entry.body) || body.kind() != v1::ReportIssuedBody::SUMMARY)
        continue;
      auto* summary = response.add_summary();
      summary->set_from(format_time_us(body.from_us()));
      summary->set_to(format_time_us(body.until_us()));
      summary->set_issued_leaf(entry.leaf);
      summary->set_issued_at(format_time_us(body.issued_us()));
      summary->set_json_sha256(hex_of(body.json_sha256()));
    }
    if (page->size() < kPage) return response;
    from = page->back().leaf + 1;
  }
}

}  // namespace fairlead::desk
