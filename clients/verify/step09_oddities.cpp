// 9: what a reader must know although nothing is wrong with the proof.
#include <map>
#include <set>

#include "clients/verify/steps.h"

namespace fairlead::verifier {
namespace {

using record::Kind;

class Oddities {
 public:
  Oddities(const Case& c, Verdicts& verdicts) : c_(c), verdicts_(verdicts) {}

  void run() {
    for (const Item& item : c_.items) show(item);
    if (quarantined_ > 0) {
      note(std::to_string(quarantined_) +
           " entries were made with a revoked key and count for "
           "nothing");
    }
    if (foreign_ > 0) {
      shown(std::to_string(foreign_) +
            " entries of other devices carry the job's id; they are not "
            "judged");
    }
    show_erasures();
    show_device();
    if (!said_) verdicts_.add(9, Mark::kGood, "none");
  }

 private:
  void note(const std::string& words) {
    verdicts_.add(9, Mark::kNote, words);
    said_ = true;
  }
  void shown(const std::string& words) {
    verdicts_.add(9, Mark::kShown, words);
    said_ = true;
  }

  void show(const Item& item) {
    if (item.quarantined) ++quarantined_;
    if (item.raw->form == record::BodyForm::kErased) erased_.insert(item.raw->leaf);
    if (!c_.job) return;
    if (record::is_foreign_to(item.header, *c_.job)) ++foreign_;
    const bool of_device = item.header.device_id == c_.job->device_id;
    switch (item.header.kind) {
      case Kind::kFork:
        return show_fork(item);
      case Kind::kRestore:
        if (const auto body = body_as<v1::RestoreBody>(item); body && body->device_id().empty()) {
          return note("a new generation of the log begins at leaf " +
                      std::to_string(item.raw->leaf) + ", after " + body->old_origin() + ": " +
                      body->cause());
        }
        return note("a disk was restored or lost (" + name_of(item) + ")");
      case Kind::kRecovered:
        if (of_device)
          note("entries of an earlier disk were brought in again (" + name_of(item) + ")");
        return;
      case Kind::kDrop:
        if (of_device) note("the truck dropped samples for want of room (" + name_of(item) + ")");
        return;
      case Kind::kGap:
        if (of_device && record::must_show_body(item.header, *c_.job)) show_gap(item);
        return;
      case Kind::kHold:
        return show_hold(item);
      case Kind::kErase: {
        if (const auto body = body_as<v1::EraseBody>(item)) erasures_[item.raw->leaf] = *body;
        return;
      }
      case Kind::kHoldEnd:
        return show_hold_end(item);
      default:
        return;
    }
  }

  void show_fork(const Item& item) {
    const auto body = body_as<v1::ForkBody>(item);
    if (body && body->device_id() == view_of(c_.job->device_id)) {
      note("two different entries exist under number " + std::to_string(body->seq()) +
           " of the job's device (" + name_of(item) + ")");
    }
  }

  void show_gap(const Item& item) {
    const auto body = body_as<v1::GapBody>(item);
    if (body) shown("gap on " + body->channel() + ": " + body->cause());
  }

  void show_hold(const Item& item) {
    const auto body = body_as<v1::HoldBody>(item);
    if (body) shown("held as evidence for claim " + body->claim_id());
  }

  void show_hold_end(const Item& item) {
    const auto body = body_as<v1::HoldEndBody>(item);
    if (!body) return;
    std::string names;
    for (const std::string& name : body->approved_by()) names += (names.empty() ? "" : ", ") + name;
    shown("hold for claim " + body->claim_id() + " ended, approved by " + names);
  }

  // Never just "missing": which entry says that they went, and under which policy.
  void show_erasures() {
    for (const auto& [at, erasure] : erasures_) {
      size_t of_these = 0;
      for (const uint64_t leaf : erasure.leaf()) of_these += erased_.contains(leaf);
      const std::string where = " erased under \"" + erasure.policy() + "\" at leaf " +
                                std::to_string(at) +
                                (erasure.words().empty() ? "" : " (" + erasure.words() + ")");
      if (of_these > 0) note(std::to_string(of_these) + " bodies shown here were" + where);
      const size_t others = static_cast<size_t>(erasure.leaf_size()) - of_these;
      if (others > 0) shown(std::to_string(others) + " bodies of other entries were" + where);
    }
  }

  void show_device() {
    if (!c_.job) return;
    const auto found = c_.devices.find(c_.job->device_id);
    if (found != c_.devices.end() && found->second.is_import) {
      note("the job was fed in from a file at the base (device " + found->second.name +
           "), not recorded on a truck");
    }
  }

  const Case& c_;
  Verdicts& verdicts_;
  size_t quarantined_ = 0, foreign_ = 0;
  std::set<uint64_t> erased_;                   // Leaves shown without their body.
  std::map<uint64_t, v1::EraseBody> erasures_;  // By the leaf of ERASE.
  bool said_ = false;
};

}  // namespace

void show_oddities(const Case& c, Verdicts& verdicts) { Oddities(c, verdicts).run(); }

}  // namespace fairlead::verifier
