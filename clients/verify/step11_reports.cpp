// 11, reports: which report the record says was issued, and whether the pages somebody holds are
// that one. A PDF that carries its bundle cannot be in it; the plain PDF, the HTML and the JSON
// can.
#include <set>

#include "clients/verify/steps.h"
#include "daemon/base/time_text.h"

namespace fairlead::verifier {
namespace {

/// Hashes of all files the record says left the house with a report on this job.
struct Issued {
  std::set<std::string> hashes;
  size_t reports = 0;
  bool this_one = false;  // The report whose figures the bundle carries.
};

Issued read_issued(const Case& c, Verdicts& verdicts) {
  Issued out;
  for (const Item& item : c.items) {
    if (item.header.kind != record::Kind::kReportIssued || !item.signed_well) continue;
    const auto body = body_as<v1::ReportIssuedBody>(item);
    if (!body) continue;
    ++out.reports;
    for (const std::string& hash : {body->json_sha256(), body->html_sha256(), body->pdf_sha256()}) {
      if (!hash.empty()) out.hashes.insert(hash);
    }
    const std::string& figures = c.meta.report_sha256();
    out.this_one = out.this_one || (!figures.empty() && body->json_sha256() == figures);
    verdicts.add(11, Mark::kShown,
                 "a report was issued at " + format_time_us(body->issued_us()) +
                     (body->claim_id().empty() ? "" : " for claim " + body->claim_id()) + " (" +
                     name_of(item) + ")");
  }
  return out;
}

void compare(const Case& c, const Issued& issued, Verdicts& verdicts) {
  for (const PagesFile& file : c.pages) {
    const std::string hash = string_of(file.sha256);
    if (issued.hashes.contains(hash)) {
      verdicts.add(11, Mark::kGood,
                   file.name + " is a report file as the record says it was issued");
    } else if (hash == c.meta.report_sha256()) {
      verdicts.add(11, Mark::kGood, file.name + " holds the figures the bundle was made with");
    } else if (issued.reports > 0) {
      verdicts.add(11, Mark::kDisproven,
                   file.name + " is none of the files the record says were issued");
    } else {
      verdicts.add(11, Mark::kNote,
                   file.name +
                       " cannot be compared: this bundle names no issued report; ask for a newer "
                       "one");
    }
  }
}

}  // namespace

void check_reports(const Case& c, Verdicts& verdicts) {
  const Issued issued = read_issued(c, verdicts);
  if (!c.meta.report_sha256().empty() && !issued.this_one) {
    verdicts.add(11, Mark::kShown,
                 "the bundle was made before its report was on record as issued, or for a draft");
  }
  compare(c, issued, verdicts);
}

}  // namespace fairlead::verifier
