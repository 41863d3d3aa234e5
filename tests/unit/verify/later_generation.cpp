#include "tests/unit/verify/later_generation.h"

#include "daemon/record/generation.h"

namespace fairlead {
namespace {

record::VerifierKey named(const std::string& name, const SecretKey& key) {
  return record::make_verifier_key(name, record::NoteKeyType::kEd25519, key.public_key()).value();
}

}  // namespace

LaterGeneration::LaterGeneration() {
  SmallBase& base = job.base;
  const uint64_t kept = base.leaves.size();
  job.open();
  job.work();
  job.close();
  base.sign_head(false);
  const std::string last_head = base.heads().back(), old_origin = base.origin();
  const std::vector<Leaf> sent(base.leaves.begin() + static_cast<std::ptrdiff_t>(kept),
                               base.leaves.end());
  base.rewrite({base.leaves.begin(), base.leaves.begin() + static_cast<std::ptrdiff_t>(kept)});

  const SecretKey old_key = std::move(base.log_key);
  base.log_key = SecretKey::generate();
  record::Roster next = record::open_roster(base.roster).value();
  base.log = next.log = named("lot.example/fairlead/g2", base.log_key);
  base.roster = record::sign_roster(next, base.root_key).value();
  base.admin.epoch = 2;
  base.admin.seq = 0;
  base.admin.prev = record::genesis_of(record::roster_fingerprint(base.roster));
  v1::RestoreBody seam;
  seam.set_last_head(last_head);
  seam.set_kept_size(kept);
  seam.set_kept_root(string_of(base.tree().root(kept)));
  seam.set_old_origin(old_origin);
  seam.set_roster(base.roster);
  seam.set_cause("the disk failed");
  const std::string text = record::seam_text(seam, base.origin());
  seam.set_old_signature(string_of(old_key.sign(text).bytes));
  seam.set_new_signature(string_of(base.log_key.sign(text).bytes));
  seam_leaf = base.write(base.admin, record::Kind::kRestore, seam.SerializeAsString());

  const uint64_t moved = base.leaves.size() - kept;  // Each stands so much later now.
  for (const Leaf& leaf : sent) base.append(leaf);
  for (uint64_t* leaf : {&job.open_leaf, &job.note_leaf, &job.strip_leaf, &job.close_leaf})
    *leaf += moved;
  lost = {job.note_leaf, job.strip_leaf};
  v1::GapBody gap;
  gap.set_channel("record");
  for (const uint64_t leaf : lost) {
    gap.add_lost_body_epoch(base.leaves[leaf].header.epoch);
    gap.add_lost_body_seq(base.leaves[leaf].header.seq);
  }
  gap_leaf = base.write(job.truck, record::Kind::kGap, gap.SerializeAsString());
  base.sign_head(false);
}

record::Bundle LaterGeneration::bundle() {
  record::Bundle out = job.bundle();
  for (const uint64_t leaf : lost) {
    out.entries[leaf].form = record::BodyForm::kErased;
    out.entries[leaf].body = {};
    out.entries[leaf].salt = {};
  }
  out.entries[gap_leaf].form = record::BodyForm::kBody;
  out.entries[gap_leaf].salt = job.base.leaves[gap_leaf].salt;
  out.entries[gap_leaf].body = job.base.leaves[gap_leaf].body;
  return out;
}

}  // namespace fairlead
