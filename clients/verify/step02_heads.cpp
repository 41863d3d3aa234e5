// 2: every head is signed by the log; one that covers every entry of a device is countersigned as
// the policy asks.
#include <algorithm>

#include "clients/verify/steps.h"

namespace fairlead::verifier {
namespace {

std::string size_words(const Head& head) {
  return "head over " + std::to_string(head.checkpoint.size) + " leaves";
}

/// Collects the good cosignatures; a bad one is a contradiction.
void read_cosignatures(const Policy& policy, Head& head, Verdicts& verdicts) {
  for (const record::VerifierKey& key : policy.countersigners) {
    const auto time_s = record::verify_cosignature(head.note, key);
    if (time_s) {
      head.cosigned_s.push_back(*time_s);
    } else if (time_s.error().code != Code::kNotFound) {
      verdicts.add(2, Mark::kDisproven, size_words(head) + ": " + time_s.error().message);
    }
  }
}

bool is_of_base(const Case& c, const Item& item) {
  const record::Id16& id = item.header.device_id;
  return admin_roster(c, id) != nullptr || service_roster(c, id) != nullptr;
}

}  // namespace

void check_heads(Case& c, Verdicts& verdicts) {
  for (Head& head : c.heads) {
    if (auto opened = record::open_checkpoint(head.note, c.policy.log); !opened) {
      verdicts.add(2, Mark::kDisproven, size_words(head) + ": " + opened.error().message);
    }
    read_cosignatures(c.policy, head, verdicts);
  }
  const Head& last = c.heads.back();
  if (!verdicts.failed(2)) verdicts.add(2, Mark::kGood, size_words(last) + " signed by the log");
}

/// The newest head with enough cosignatures must cover every entry that a device made. The base's
/// own (claims, reports) may come later: they add to the job, they do not change it.
void check_countersigned(const Case& c, Verdicts& verdicts) {
  if (c.policy.countersigners.empty()) {
    verdicts.add(2, Mark::kNote, "not yet countersigned: the policy names no countersigner");
    return;
  }
  const auto found = std::find_if(c.heads.rbegin(), c.heads.rend(), [&](const Head& head) {
    return head.cosigned_s.size() >= c.policy.threshold;
  });
  if (found == c.heads.rend()) {
    size_t most = 0;
    for (const Head& head : c.heads) most = std::max(most, head.cosigned_s.size());
    verdicts.add(2, Mark::kNote,
                 "not yet countersigned: " + std::to_string(most) + " of " +
                     std::to_string(c.policy.threshold) + " cosignatures on any head");
    return;
  }
  size_t newer = 0, later = 0;
  for (const Item& item : c.items) {
    if (item.raw->leaf < found->checkpoint.size) continue;
    ++(is_of_base(c, item) ? later : newer);
  }
  const std::string head = size_words(*found);
  if (newer > 0) {
    verdicts.add(2, Mark::kNote,
                 "not yet countersigned: " + std::to_string(newer) +
                     " entries are newer than the countersigned " + head);
    return;
  }
  verdicts.add(2, Mark::kGood,
               "countersigned by " + std::to_string(found->cosigned_s.size()) + " of " +
                   std::to_string(c.policy.countersigners.size()) + ": " + head);
  if (later > 0) {
    verdicts.add(2, Mark::kShown,
                 std::to_string(later) +
                     " entries of the base itself, none of a truck, came after that head");
  }
}

}  // namespace fairlead::verifier
