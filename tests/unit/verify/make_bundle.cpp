// Writes what the program test needs into a folder: a roster, keys, and the same job's bundle with
// and without a countersigner.
#include <fstream>
#include <iostream>

#include "tests/unit/verify/small_job.h"

namespace {

void put(const std::string& path, const std::string& bytes) {
  std::ofstream(path, std::ios::binary) << bytes;
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
  put(folder + "roster.note", job.base.roster);
  put(folder + "log.vkey", fairlead::record::format_verifier_key(job.base.log));
  put(folder + "countersigner.vkey", fairlead::record::format_verifier_key(job.base.countersigner));
  put(folder + "other.vkey", fairlead::record::format_verifier_key(fairlead::SmallBase().log));
  return 0;
}
