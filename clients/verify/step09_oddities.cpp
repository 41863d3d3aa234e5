// 9: what a reader must know although nothing is wrong with the proof.
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
    if (erased_ > 0) note(std::to_string(erased_) + " bodies were erased");
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
    if (item.raw->form == record::BodyForm::kErased) ++erased_;
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
      case Kind::kErase:
        return show_erase(item);
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

  void show_erase(const Item& item) {
    const auto body = body_as<v1::EraseBody>(item);
    if (!body) return;
    shown(std::to_string(body->leaf_size()) + " bodies erased under \"" + body->policy() +
          "\" at leaf " + std::to_string(item.raw->leaf));
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
  size_t quarantined_ = 0, foreign_ = 0, erased_ = 0;
  bool said_ = false;
};

}  // namespace

void show_oddities(const Case& c, Verdicts& verdicts) { Oddities(c, verdicts).run(); }

}  // namespace fairlead::verifier
