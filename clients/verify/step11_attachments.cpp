// 11: files and attachments are what their hashes say; all that was in force at the job's opening
// is there; what a line names and the bundle does not carry is listed.
#include <algorithm>
#include <map>
#include <set>

#include "clients/verify/job_lines.h"
#include "clients/verify/steps.h"

namespace fairlead::verifier {
namespace {

void check_hashes(const std::vector<record::BundleFile>& files, const char* what,
                  Verdicts& verdicts) {
  for (const record::BundleFile& file : files) {
    if (sha256(file.bytes) != file.sha256) {
      verdicts.add(
          11, Mark::kDisproven,
          std::string(what) + " " + hex_of(file.sha256) + " has other bytes than its hash");
    }
  }
}

std::set<std::string> hashes_of(const std::vector<record::BundleFile>& files) {
  std::set<std::string> out;
  for (const record::BundleFile& file : files) out.insert(hex_of(file.sha256));
  return out;
}

/// Every file the record names as in force, by hash; those of JOB_OPEN must be there.
void check_files(const Case& c, Verdicts& verdicts) {
  const auto present = hashes_of(c.bundle.files);
  std::set<std::string> known;
  for (const v1::Pin& pin : job_pins(c)) {
    const std::string hash = hex_of(pin.sha256());
    known.insert(hash);
    if (!present.contains(hash)) {
      verdicts.add(11, Mark::kDisproven,
                   "file " + hash +
                       ", in force when the job was opened, is "
                       "withheld");
    }
  }
  for (const Item& item : c.items) {
    if (item.header.kind != record::Kind::kInForce) continue;
    if (const auto body = body_as<v1::InForceBody>(item))
      known.insert(hex_of(body->file().sha256()));
  }
  const std::string report = hex_of(c.meta.report_sha256());
  known.insert(report);
  if (!report.empty() && !present.contains(report)) {
    verdicts.add(11, Mark::kDisproven, "the report's figures (" + report + ") are missing");
  }
  for (const std::string& hash : present) {
    if (known.contains(hash)) continue;
    verdicts.add(11, Mark::kNote, "file " + hash + " is one the record does not name");
  }
}

void check_named(const Case& c, Verdicts& verdicts) {
  std::map<std::string, std::string> named;  // Hash to what it is.
  std::vector<v1::Observation> lines = job_lines(c).lines;
  std::ranges::move(foreign_lines(c), std::back_inserter(lines));
  for (const v1::Observation& line : lines) {
    if (line.has_photo()) named[line.photo().sha256()] = "photo " + line.photo().view();
    if (line.has_film()) named[line.film().sha256()] = "film";
    if (line.has_statement()) named[line.statement().sha256()] = "statement";
    if (line.has_anchor()) named[line.anchor().sha256()] = "anchor picture";
    if (line.has_custody()) named[line.custody().sha256()] = "signature";
  }
  named.erase("");
  const auto present = hashes_of(c.bundle.attachments);
  size_t missing = 0;
  for (const auto& [hash, what] : named) {
    if (present.contains(hash)) continue;
    ++missing;
    verdicts.add(11, Mark::kNote, what + " " + hash + " is named, but not in the bundle");
  }
  for (const std::string& hash : present) {
    if (named.contains(hash)) continue;
    verdicts.add(11, Mark::kDisproven, "attachment " + hash + " is one no entry of the job names");
  }
  if (verdicts.failed(11)) return;
  verdicts.add(11, Mark::kGood,
               std::to_string(c.bundle.files.size()) + " files, " +
                   std::to_string(named.size() - missing) + " of " + std::to_string(named.size()) +
                   " attachments");
}

}  // namespace

void check_attachments(const Case& c, Verdicts& verdicts) {
  check_hashes(c.bundle.files, "file", verdicts);
  check_hashes(c.bundle.attachments, "attachment", verdicts);
  if (!c.bundle.stamps.empty()) {
    verdicts.add(11, Mark::kShown,
                 std::to_string(c.bundle.stamps.size()) +
                     " RFC 3161 time stamps are not checked by this program; "
                     "use openssl ts -verify");
  }
  if (!c.job) return;
  check_files(c, verdicts);
  check_named(c, verdicts);
}

}  // namespace fairlead::verifier
