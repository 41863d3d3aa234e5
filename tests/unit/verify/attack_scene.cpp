#include "tests/unit/verify/attack_scene.h"

namespace fairlead {

void Scene::record_job() {
  SmallBase& base = job.base;
  v1::ClockBody clock;
  clock.set_cause("ntp");
  early_leaf = base.write(base.admin, record::Kind::kClock, clock.SerializeAsString());
  base.sign_head(false);
  if (trucks_saw) base.seen_size = base.leaves.size();
  job.open();
  job.work();
  const size_t more = 1 + pick(4);
  for (size_t i = 0; i < more; ++i) job.chat("word " + std::to_string(pick(1000)));
  if (trucks_saw) base.seen_size = base.leaves.size();
  job.close();
  job.judge();
  base.sign_head(false);
  ask_countersigner();
  for (uint64_t leaf = job.open_leaf + 1; leaf < job.close_leaf; ++leaf) inner.push_back(leaf);
}

void Scene::make_bundle() { bundle = job.bundle(); }

/// Keeps its word: never signs a head that does not grow out of the last one it signed.
void Scene::ask_countersigner() {
  if (!watched) return;
  SmallBase& base = job.base;
  const uint64_t size = base.leaves.size();
  const record::Checkpoint now{base.origin(), size, base.tree().root(size)};
  if (cosigned_ && !colludes) {
    if (cosigned_->size > size ||
        !record::verify_consistency(cosigned_->size, cosigned_->root, size, now.root,
                                    cosigned_->size == size
                                        ? std::vector<Hash>{}
                                        : base.tree().consistency(cosigned_->size, size))) {
      return;
    }
  }
  cosigned_ = now;
  const auto line = record::cosignature_line(record::format_checkpoint(now), base.countersigner,
                                             base.countersigner_key, 1'772'445'600 + size);
  std::string note = base.heads().back() + line.value();
  base.drop_head();
  base.show_head(std::move(note));
}

void Scene::rewrite_as(std::vector<Leaf> changed) {
  job.base.rewrite(std::move(changed));
  job.base.sign_head(false);
  ask_countersigner();
  make_bundle();
}

record::BundleEntry& Scene::at(uint64_t leaf) {
  for (record::BundleEntry& entry : bundle.entries) {
    if (entry.leaf == leaf) return entry;
  }
  ADD_FAILURE() << "no entry at leaf " << leaf;
  return bundle.entries.front();
}

void Scene::drop(uint64_t leaf) {
  std::erase_if(bundle.entries, [&](const record::BundleEntry& e) { return e.leaf == leaf; });
}

void Scene::change_meta(const std::function<void(v1::BundleMeta&)>& change) {
  v1::BundleMeta meta;
  meta.ParseFromString(std::string(bundle.meta));
  change(meta);
  bundle.meta = keep(meta.SerializeAsString());
}

std::string Scene::flipped(std::string text) {
  const size_t bit = pick(text.size() * 8);
  text[bit / 8] = static_cast<char>(text[bit / 8] ^ (1 << (bit % 8)));
  return text;
}

std::vector<Attack> all_attacks() {
  std::vector<Attack> out;
  for (auto* group : {attacks_on_bundle, attacks_on_form, attacks_with_keys, attacks_on_history,
                      attacks_on_words}) {
    for (Attack& attack : group()) out.push_back(std::move(attack));
  }
  return out;
}

}  // namespace fairlead
