// 7: each body is the one its entry committed to; an erased one is named by an ERASE entry.
#include <map>

#include "clients/verify/steps.h"

namespace fairlead::verifier {
namespace {

using record::BodyForm;
using record::Kind;

/// Leaf index of an erased body to the leaf of the ERASE entry that names it.
std::map<uint64_t, uint64_t> erased_leaves(const Case& c) {
  std::map<uint64_t, uint64_t> out;
  for (const Item& item : c.items) {
    if (item.header.kind != Kind::kErase || !item.signed_well) continue;
    const auto body = body_as<v1::EraseBody>(item);
    if (!body) continue;
    for (uint64_t leaf : body->leaf()) out.emplace(leaf, item.raw->leaf);
  }
  return out;
}

}  // namespace

void check_bodies(Case& c, Verdicts& verdicts) {
  const auto erased = erased_leaves(c);
  size_t bodies = 0;
  for (Item& item : c.items) {
    const bool named = erased.contains(item.raw->leaf);
    if (item.raw->form == BodyForm::kErased && !named) {
      verdicts.add(7, Mark::kDisproven,
                   name_of(item) + " is called erased, but no ERASE entry names it");
    }
    if (item.raw->form == BodyForm::kBare && named) {
      verdicts.add(7, Mark::kDisproven, name_of(item) + " was erased, but is not called so");
    }
    if (!item.has_body()) continue;
    item.body_bound = record::body_matches(item.header, item.raw->salt, item.raw->body);
    if (!item.body_bound) {
      verdicts.add(7, Mark::kDisproven,
                   name_of(item) + " has another body than the one signed for");
    }
    ++bodies;
  }
  if (!verdicts.failed(7)) {
    verdicts.add(7, Mark::kGood, std::to_string(bodies) + " bodies are the ones signed for");
  }
}

}  // namespace fairlead::verifier
