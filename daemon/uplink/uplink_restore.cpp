// The part of UplinkState for a disk that was put back, here or at the base. The base holds more of
// this truck's record than this disk does, or other entries: the truck says where the two part
// (Differs), the base opens a new epoch (Restored) and gives back what is missing here (Returned,
// page by page), and the truck brings in what is missing there.
#include <fmt/format.h>

#include <algorithm>
#include <tuple>

#include "daemon/record/generation.h"
#include "daemon/record/leaf.h"
#include "daemon/uplink/recovery.h"
#include "daemon/uplink/uplink_state.h"

namespace fairlead::uplink {
namespace {

// The RESTORE body in a leaf that one of these officers signed.
Result<v1::RestoreBody> open_restore(const v1::SignedLeaf& leaf,
                                     const std::vector<record::RosterKey>& admins) {
  if (leaf.leaf_data().size() != record::kLeafDataSize) {
    return fail(Code::kBadInput, "the base's RESTORE has no leaf of 297 bytes; update the base");
  }
  const auto entry =
      array_of<record::kEntrySize>(leaf.leaf_data().substr(1, record::kEntrySize), "RESTORE");
  const auto header = entry ? record::decode_header(*entry) : std::unexpected(entry.error());
  if (!header) return fail_at("the base's RESTORE: ", header.error());
  const auto salt = array_of<16>(leaf.salt(), "RESTORE's salt");
  if (!salt) return std::unexpected(salt.error());
  v1::RestoreBody body;
  const bool by_admin = std::ranges::any_of(admins, [&](const record::RosterKey& admin) {
    return admin.device_id == header->device_id && record::verify_entry(*entry, admin.key.key);
  });
  if (header->kind != record::Kind::kRestore || !by_admin ||
      !record::body_matches(*header, *salt, leaf.body()) || !body.ParseFromString(leaf.body())) {
    return fail(Code::kConflict, "the base's RESTORE is not signed by an admin key of its roster");
  }
  return body;
}

v1::Place place_of(uint32_t epoch, uint64_t seq) {
  v1::Place place;
  place.set_epoch(epoch);
  place.set_seq(seq);
  return place;
}

}  // namespace

Status UplinkState::take_generations(const v1::Resume& resume, const v1::Enrolment& held) {
  record::Roster roster = *roster_;
  uint64_t kept = 0, leaf = 0;
  for (const v1::SignedLeaf& seam : resume.generation()) {
    v1::RestoreBody named;
    if (!named.ParseFromString(seam.body()) || named.old_origin() != roster.log.name) continue;
    // The officers of the roster this truck trusts, or those the same root key named since.
    const auto next = record::open_seam(named, roster);
    if (!next) return std::unexpected(next.error());
    auto admins = roster.admins;
    admins.insert(admins.end(), next->admins.begin(), next->admins.end());
    const auto body = open_restore(seam, admins);
    if (!body) return std::unexpected(body.error());
    if (leaf == 0) kept = body->kept_size();
    leaf = seam.leaf_index();
    roster = *next;
  }
  v1::Enrolment now = held;
  now.set_origin(resume.enrolment().origin());
  now.set_roster(resume.enrolment().roster());
  *now.mutable_older_roster() = resume.enrolment().older_roster();
  const record::VerifierKey root = roster.root;
  if (leaf == 0 || roster.log.name != now.origin()) {
    return fail(Code::kConflict, fmt::format("this truck belongs to the base '{}', not to '{}'; "
                                             "check the address of the base",
                                             held.origin(), now.origin()));
  }
  if (auto ok = open_enrolment(now); !ok) return ok;
  if (roster_->root != root) {
    return fail(Code::kConflict, "the base's roster is signed by another root key; check the base");
  }
  auto head = store_.seen_head();
  if (!head) return std::unexpected(head.error());
  // What was seen of the kept beginning still binds the base; of the lost end nothing can be
  // proved.
  if (head->size > kept) *head = {};
  if (head->size > 0) head->origin = now.origin();
  return store_.keep_generation(now, leaf, *head);
}

Result<bool> UplinkState::agrees(const v1::Resume& resume, const Tip& tip) {
  if (resume.epoch() != tip.epoch || resume.acked_seq() > tip.seq) return false;
  genesis_ = tip.chain;
  if (tip.seq > 0) {
    const auto first = store_.entries_from(tip.epoch, 1, 1);
    if (!first) return std::unexpected(first.error());
    if (first->empty()) return fail(Code::kCorrupt, "own entry 1 is gone; restore a good copy");
    genesis_ = record::decode_header(first->front().entry)->prev;
  }
  const auto chain = resume.acked_seq() == 0 ? Result<Hash>(genesis_)
                                             : chain_at(store_, tip.epoch, resume.acked_seq());
  if (!chain) return std::unexpected(chain.error());
  return resume.acked_chain() == view_of(*chain);
}

Status UplinkState::begin_differs(const v1::Resume& resume, const Tip& tip) {
  const uint32_t epoch = std::min(resume.epoch(), tip.epoch);
  const auto last = epoch == tip.epoch ? Result<uint64_t>(tip.seq) : last_seq_of(store_, epoch);
  if (!last) return std::unexpected(last.error());
  v1::Differs differs;
  for (uint64_t back = 0; back < *last; back = back == 0 ? 1 : back * 2) {
    const uint64_t seq = *last - back;
    const auto chain = chain_at(store_, epoch, seq);
    if (!chain) return std::unexpected(chain.error());
    v1::ChainPoint& point = *differs.add_point();
    point.set_seq(seq);
    point.set_chain(string_of(*chain));
  }
  if (*last > 0) {
    const uint64_t seq =
        resume.epoch() > epoch ? *last : std::clamp<uint64_t>(resume.acked_seq(), 1, *last);
    const auto own = store_.entries_from(epoch, seq, 1);
    if (!own) return std::unexpected(own.error());
    differs.set_entry(string_of(own->front().entry));
  }
  differs_ = std::move(differs);
  return {};
}

Status UplinkState::take_restored(const v1::Restored& restored) {
  if (streaming_ || !roster_) return fail(Code::kBadInput, "the base opened an epoch unasked");
  auto admins = roster_->admins;
  for (const record::Roster& older : older_rosters_)
    admins.insert(admins.end(), older.admins.begin(), older.admins.end());
  auto body = open_restore(restored.restore(), admins);
  if (!body) return std::unexpected(body.error());
  const auto tip = store_.tip();
  if (!tip) return std::unexpected(tip.error());
  if (body->device_id() != view_of(device_id_) || body->new_epoch() <= tip->epoch) {
    return fail(Code::kConflict, "the base's RESTORE is for another truck or an epoch gone by");
  }
  Opening opening;
  *opening.recovery.mutable_restore() = restored.restore();
  *opening.recovery.mutable_common() = restored.common();
  opening.recovery.set_epoch(body->new_epoch());
  opening.have = restored.common();
  if (restored.common().seq() > 0) {
    const auto chain = chain_at(store_, restored.common().epoch(), restored.common().seq());
    if (!chain) return std::unexpected(chain.error());
    opening.chain = *chain;
  }
  opening.body = std::move(*body);
  if (auto ok = store_.begin_epoch(opening.recovery); !ok) return ok;
  opening_ = std::move(opening);
  return {};
}

// What is given back must be one chain with what is here; what both have alike is no loss.
Status UplinkState::take_returned(const v1::Returned& returned) {
  if (!opening_) return fail(Code::kBadInput, "the base gave entries back unasked");
  Opening& opening = *opening_;
  v1::Returned kept;
  for (const v1::SentEntry& sent : returned.entry()) {
    const auto entry = array_of<record::kEntrySize>(sent.entry(), "returned entry");
    const auto header = entry ? record::decode_header(*entry) : std::unexpected(entry.error());
    if (!header) return fail_at("the base's returned entry: ", header.error());
    const bool next = header->epoch == opening.have.epoch()
                          ? header->seq == opening.have.seq() + 1
                          : header->epoch > opening.have.epoch() && header->seq == 1;
    const bool linked = header->seq == 1 || header->prev == opening.chain;
    const auto salt = array_of<16>(sent.salt(), "salt");
    const bool bound = sent.body_follows() || sent.erased() ||
                       (salt && record::body_matches(*header, *salt, sent.body()));
    if (!next || !linked || !bound || header->device_id != device_id_) {
      return fail(Code::kConflict,
                  "what the base gives back is not this truck's record in order; check the base");
    }
    opening.chain = record::chain_of(*entry);
    opening.have = place_of(header->epoch, header->seq);
    const auto own = store_.entries_from(header->epoch, header->seq, 1);
    if (!own) return std::unexpected(own.error());
    const bool same = !own->empty() && own->front().entry == *entry;
    if (same) {
      *opening.recovery.mutable_common() = opening.have;
    } else {
      *kept.add_entry() = sent;
    }
  }
  if (auto ok = store_.keep_returned(kept); !ok) return ok;
  v1::Differs more;
  *more.mutable_have() = opening.have;
  differs_ = std::move(more);
  return {};
}

Status UplinkState::open_epoch(const v1::Resume& resume) {
  Opening& opening = *opening_;
  if (resume.epoch() != opening.recovery.epoch()) return {};  // take_resume says what is wrong.
  const bool whole =
      opening.body.acked_seq() == 0 || (opening.have.epoch() == opening.body.old_epoch() &&
                                        opening.have.seq() == opening.body.acked_seq() &&
                                        opening.body.acked_chain() == view_of(opening.chain));
  if (!whole) {
    return fail(Code::kConflict,
                "the base did not give back all that it had acknowledged of this "
                "truck; check the base");
  }
  for (const v1::Place& place : resume.older_bodies_missing()) {
    if (!is_shared({opening.recovery}, place)) *opening.recovery.add_lost_body() = place;
  }
  return store_.open_epoch(opening.recovery);
}

Status UplinkState::sort_bodies(const v1::Resume& resume) {
  bodies_later_.assign(resume.bodies_missing().begin(), resume.bodies_missing().end());
  if (resume.older_bodies_missing().empty()) return {};
  const auto recoveries = store_.recoveries();
  if (!recoveries) return std::unexpected(recoveries.error());
  for (const v1::Place& place : resume.older_bodies_missing()) {
    if (is_shared(*recoveries, place)) older_bodies_.push_back(place);
  }
  return {};
}

}  // namespace fairlead::uplink
