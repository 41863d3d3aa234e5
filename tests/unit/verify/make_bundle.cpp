// Writes what the program test needs into a folder: a roster, keys, and the same job's bundle with
// and without a countersigner.
#include <fstream>
#include <functional>
#include <iostream>

#include "tests/unit/verify/small_job.h"
#include "tests/unit/verify/small_pdf.h"

namespace {

using fairlead::record::Bundle;

void put(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary) << bytes;
}

/// Bundles a dishonest base could make: one part altered, then sealed with its own key.
void put_resealed(const std::string& folder, fairlead::SmallJob& job) {
  const auto note = job.note_leaf;
  const std::function<void(Bundle&)> changes[] = {
      [&](Bundle& b) { b.entries[note].salt[3] ^= 1; },
      [&](Bundle& b) { b.entries[note].recv_us += 1; },
      [&](Bundle& b) { b.entries[note].path[1][0] ^= 1; },
      [&](Bundle& b) { b.entries[note].entry[230] ^= 1; },
      [&](Bundle& b) { b.entries[note].form = fairlead::record::BodyForm::kBare; },
      [&](Bundle& b) { b.entries[note].form = fairlead::record::BodyForm::kErased; },
      [&](Bundle& b) { b.entries.erase(b.entries.begin() + static_cast<long>(note)); },
      [&](Bundle& b) { b.entries.erase(b.entries.begin()); },
      [&](Bundle& b) { b.consistency.clear(); },
      [&](Bundle& b) { b.files.clear(); },
      [&](Bundle& b) { b.attachments[0].bytes.remove_suffix(1); },
      [&](Bundle& b) { b.attachments[0] = {fairlead::sha256("x"), "x"}; },
      [&](Bundle& b) { b.heads.pop_back(); }};
  int number = 0;
  for (const auto& change : changes) {
    Bundle bundle = job.bundle();
    change(bundle);
    put(folder + "reseal_" + std::to_string(++number) + ".flb", job.base.seal(bundle));
  }
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) {
    std::cerr << "usage: make_bundle FOLDER\n";
    return 64;
  }
  const std::string folder = std::string(argv[1]) + "/";
  fairlead::SmallJob job;
  job.run(false);
  put(folder + "plain.flb", job.base.seal(job.bundle()));
  // The same head once more with the countersigner's line, after one entry that makes it grow.
  job.base.write(job.base.admin, fairlead::record::Kind::kStop, "");
  job.base.sign_head(true);
  put(folder + "cosigned.flb", job.base.seal(job.bundle()));
  put(folder + "report.pdf", fairlead::small_pdf(job.base.seal(job.bundle())));
  put_resealed(folder, job);
  put(folder + "roster.note", job.base.roster);
  put(folder + "log.vkey", fairlead::record::format_verifier_key(job.base.log));
  put(folder + "countersigner.vkey", fairlead::record::format_verifier_key(job.base.countersigner));
  put(folder + "other.vkey", fairlead::record::format_verifier_key(fairlead::SmallBase().log));
  return 0;
}
