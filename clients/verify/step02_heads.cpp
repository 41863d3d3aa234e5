// 2: every head is signed by the log; the last one is countersigned as the policy asks.
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
  if (c.policy.countersigners.empty()) {
    verdicts.add(2, Mark::kNote, "not yet countersigned: the policy names no countersigner");
  } else if (last.cosigned_s.size() < c.policy.threshold) {
    verdicts.add(2, Mark::kNote,
                 "not yet countersigned: " + std::to_string(last.cosigned_s.size()) + " of " +
                     std::to_string(c.policy.threshold) + " cosignatures on the last head");
  } else {
    verdicts.add(2, Mark::kGood,
                 "countersigned by " + std::to_string(last.cosigned_s.size()) + " of " +
                     std::to_string(c.policy.countersigners.size()));
  }
}

}  // namespace fairlead::verifier
