// 3: every entry of the bundle is a leaf of the last head's tree, and of this log.
#include <set>

#include "clients/verify/steps.h"
#include "daemon/record/merkle.h"

namespace fairlead::verifier {
namespace {

/// This generation, and those before it that a RESTORE entry of the bundle names.
std::set<record::Id16> ledgers_of(const Case& c) {
  std::set<record::Id16> out{record::ledger_id_of(c.policy.origin())};
  for (const Item& item : c.items) {
    if (item.header.kind != record::Kind::kRestore) continue;
    const auto body = body_as<v1::RestoreBody>(item);
    const auto note = record::parse_note(body ? body->last_head() : "");
    const auto checkpoint =
        note ? record::parse_checkpoint(note->text) : fail(Code::kBadInput, "no head");
    if (checkpoint) out.insert(record::ledger_id_of(checkpoint->origin));
  }
  return out;
}

}  // namespace

void check_inclusion(const Case& c, Verdicts& verdicts) {
  const std::set<record::Id16> ledgers = ledgers_of(c);
  for (const Item& item : c.items) {
    if (!record::verify_inclusion(item.raw->leaf, c.head().size, item.leaf_hash, item.raw->path,
                                  c.head().root)) {
      verdicts.add(3, Mark::kDisproven, name_of(item) + " is not in the tree of the last head");
    }
    if (!ledgers.contains(item.header.ledger_id)) {
      verdicts.add(3, Mark::kDisproven, name_of(item) + " was made for another log");
    }
  }
  if (!verdicts.failed(3)) {
    verdicts.add(3, Mark::kGood, "all " + std::to_string(c.items.size()) + " entries are in it");
  }
}

}  // namespace fairlead::verifier
