// Writes what tests of programs need into a folder: make_bundle FOLDER [attacks | COUNT]
//   by itself   a roster, keys, and the same job's bundle with and without a countersigner;
//   later.flb,
//               of a second generation of the log, and its policy
//   attacks     one bundle and policy for each attack of the list, and attacks.tsv that names them
//   COUNT       big.flb, a bundle of a job with that many notes, and its policy
#include <fstream>
#include <functional>
#include <iostream>

#include "tests/unit/verify/attack_scene.h"
#include "tests/unit/verify/later_generation.h"
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

void put_attacks(const std::string& folder) {
  using fairlead::By;
  std::ofstream list(folder + "attacks.tsv");
  size_t number = 0;
  for (const fairlead::Attack& attack : fairlead::all_attacks()) {
    fairlead::Scene s(++number);
    s.trucks_saw = attack.by == By::kSeenHead;
    s.watched = attack.by == By::kPolicy || attack.by == By::kCountersigner;
    attack.act(s);
    if (s.bytes.empty()) s.bytes = s.job.base.seal(s.bundle);
    const std::string name = "attack_" + std::to_string(number);
    put(folder + name + ".flb", s.bytes);
    put(folder + name + ".policy", fairlead::verifier::format_policy(s.job.base.policy(s.watched)));
    list << name << '\t' << attack.step << '\t' << attack.name << '\n';
  }
}

void put_big(const std::string& folder, size_t notes) {
  fairlead::SmallJob job;
  job.open();
  job.work();
  for (size_t i = 0; i < notes; ++i) job.chat("note " + std::to_string(i));
  job.close();
  job.judge();
  job.base.sign_head(true);
  put(folder + "big.flb", job.base.seal(job.bundle()));
  put(folder + "big.policy", fairlead::verifier::format_policy(job.base.policy(true)));
}

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2 && argc != 3) {
    std::cerr << "usage: make_bundle FOLDER [attacks | COUNT]\n";
    return 64;
  }
  const std::string folder = std::string(argv[1]) + "/", what = argc == 3 ? argv[2] : "";
  if (what == "attacks") {
    put_attacks(folder);
    return 0;
  }
  if (!what.empty()) {
    put_big(folder, std::stoul(what));
    return 0;
  }
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
  fairlead::LaterGeneration later;
  put(folder + "later.flb", later.job.base.seal(later.bundle()));
  put(folder + "later.policy", fairlead::verifier::format_policy(later.job.base.policy(false)));
  Bundle withheld = later.bundle();
  withheld.entries[later.gap_leaf].form = fairlead::record::BodyForm::kBare;
  put(folder + "later_withheld.flb", later.job.base.seal(withheld));
  put(folder + "other.vkey", fairlead::record::format_verifier_key(fairlead::SmallBase().log));
  return 0;
}
