// The bundle itself is edited, then sealed again with the base's own log key.
#include "tests/unit/verify/attack_scene.h"

namespace fairlead {
namespace {

using record::BodyForm;

/// An attack that changes the bundle of an honest history.
std::function<void(Scene&)> on_bundle(std::function<void(Scene&)> change) {
  return [change = std::move(change)](Scene& s) {
    s.record_job();
    s.make_bundle();
    change(s);
  };
}

void swap_bodies(Scene& s) {
  record::BundleEntry &a = s.at(s.job.note_leaf), &b = s.at(s.job.open_leaf + 1);
  std::swap(a.body, b.body);
  std::swap(a.salt, b.salt);
}

void swap_entries(Scene& s) {
  const uint64_t leaf = s.inner[s.pick(s.inner.size() - 1)];
  std::swap(s.at(leaf).entry, s.at(leaf + 1).entry);
}

std::vector<Attack> on_bodies() {
  return {
      {"edit a body", By::kBundle, 7, "another body", on_bundle([](Scene& s) {
         auto& entry = s.at(s.inner_leaf());
         entry.body = s.keep(s.flipped(std::string(entry.body)));
       })},
      {"shorten a body", By::kBundle, 7, "another body",
       on_bundle([](Scene& s) { s.at(s.inner_leaf()).body.remove_suffix(1); })},
      {"lengthen a body", By::kBundle, 7, "another body", on_bundle([](Scene& s) {
         auto& entry = s.at(s.inner_leaf());
         entry.body = s.keep(std::string(entry.body) + '\0');
       })},
      {"give a body another salt", By::kBundle, 7, "another body",
       on_bundle([](Scene& s) { s.at(s.inner_leaf()).salt[s.pick(16)] ^= 1; })},
      {"swap the bodies of two entries", By::kBundle, 7, "another body", on_bundle(swap_bodies)},
      {"withhold a body", By::kBundle, 6, "withheld",
       on_bundle([](Scene& s) { s.at(s.inner_leaf()).form = BodyForm::kBare; })},
      {"withhold a strip's body", By::kBundle, 6, "withheld",
       on_bundle([](Scene& s) { s.at(s.job.strip_leaf).form = BodyForm::kBare; })},
      {"withhold the opening's body", By::kBundle, 6, "withheld",
       on_bundle([](Scene& s) { s.at(s.job.open_leaf).form = BodyForm::kBare; })},
      {"withhold the closing's body", By::kBundle, 6, "withheld",
       on_bundle([](Scene& s) { s.at(s.job.close_leaf).form = BodyForm::kBare; })},
      {"call a body erased that nobody erased", By::kBundle, 7, "no ERASE entry names it",
       on_bundle([](Scene& s) { s.at(s.inner_leaf()).form = BodyForm::kErased; })},
  };
}

std::vector<Attack> on_entries() {
  return {
      {"drop an entry", By::kBundle, 5, "missing",
       on_bundle([](Scene& s) { s.drop(s.inner_leaf()); })},
      {"drop the last strip", By::kBundle, 5, "missing",
       on_bundle([](Scene& s) { s.drop(s.job.strip_leaf); })},
      {"drop the opening and all before (prefix)", By::kBundle, 6, "JOB_OPEN is not in",
       on_bundle([](Scene& s) {
         s.drop(s.job.open_leaf - 1);
         s.drop(s.job.open_leaf);
       })},
      {"drop the job's beginning up to somewhere", By::kBundle, 6, "JOB_OPEN is not in",
       on_bundle([](Scene& s) {
         for (uint64_t leaf = s.job.open_leaf - 1, end = s.inner_leaf(); leaf < end; ++leaf) {
           s.drop(leaf);
         }
       })},
      {"change when an entry came in", By::kBundle, 3, "not in the tree", on_bundle([](Scene& s) {
         s.at(s.inner_leaf()).recv_us -= 1 + static_cast<int64_t>(s.pick(1'000'000'000));
       })},
      {"move an entry to another leaf", By::kBundle, 3, "not in the tree",
       on_bundle([](Scene& s) { s.bundle.entries.back().leaf += 1 + s.pick(100); })},
      {"swap two entries", By::kBundle, 3, "not in the tree", on_bundle(swap_entries)},
      {"alter a path", By::kBundle, 3, "not in the tree",
       on_bundle([](Scene& s) { s.at(s.inner_leaf()).path[1][s.pick(32)] ^= 1; })},
      {"shorten a path", By::kBundle, 3, "not in the tree",
       on_bundle([](Scene& s) { s.at(s.inner_leaf()).path.pop_back(); })},
      {"lengthen a path", By::kBundle, 3, "not in the tree",
       on_bundle([](Scene& s) { s.at(s.inner_leaf()).path.push_back(Hash{}); })},
      {"splice in an entry of another log", By::kBundle, 3, "not in the tree",
       on_bundle([](Scene& s) {
         Scene other(s.random());
         other.record_job();
         other.make_bundle();
         const uint64_t leaf = s.inner_leaf();
         record::BundleEntry strange = other.at(other.job.note_leaf);
         strange.leaf = leaf;
         strange.body = s.keep(std::string(strange.body));
         s.at(leaf) = strange;
       })},
      {"edit a signed header", By::kBundle, 3, "not in the tree",
       on_bundle([](Scene& s) { s.at(s.inner_leaf()).entry[88 + s.pick(24)] ^= 1; })},
  };
}

std::vector<Attack> on_files() {
  return {
      {"swap a file that was in force", By::kBundle, 11, "other bytes than its hash",
       on_bundle([](Scene& s) { s.bundle.files[0].bytes = "id: \"short\""; })},
      {"leave out a file that was in force", By::kBundle, 11, "withheld",
       on_bundle([](Scene& s) { s.bundle.files.clear(); })},
      {"put another file in its place, under its own hash", By::kBundle, 11, "withheld",
       on_bundle([](Scene& s) {
         const std::string_view other = s.keep(s.flipped(s.job.procedure));
         s.bundle.files[0] = {sha256(other), other};
       })},
      {"alter a picture", By::kBundle, 11, "other bytes than its hash",
       on_bundle([](Scene& s) { s.bundle.attachments[0].bytes = s.keep(s.flipped(s.job.photo)); })},
      {"swap a picture for another", By::kBundle, 11, "no entry of the job names",
       on_bundle([](Scene& s) {
         const std::string_view other = s.keep(s.flipped(s.job.photo));
         s.bundle.attachments[0] = {sha256(other), other};
       })},
      {"leave out a picture", By::kWords, 11, "is named, but not in the bundle",
       on_bundle([](Scene& s) { s.bundle.attachments.clear(); })},
  };
}

}  // namespace

std::vector<Attack> attacks_on_bundle() {
  std::vector<Attack> out = on_bodies();
  for (auto* group : {on_entries, on_files}) {
    for (Attack& attack : group()) out.push_back(std::move(attack));
  }
  return out;
}

}  // namespace fairlead
