// The half of UplinkState that checks what the base claims: resume point, heads, receipts, orders.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/record/leaf.h"
#include "daemon/record/merkle.h"
#include "daemon/uplink/uplink_state.h"

namespace fairlead::uplink {
namespace {

Result<record::Checkpoint> open_head(const std::string& bytes, const record::VerifierKey& log) {
  const auto note = record::parse_note(bytes);
  if (!note) return fail_at("the base's head: ", note.error());
  return record::open_checkpoint(*note, log);
}

}  // namespace

Status UplinkState::open_enrolment(const v1::Enrolment& enrolment) {
  auto roster = record::open_roster(enrolment.roster());
  if (!roster) return fail_at("the base's roster: ", roster.error());
  if (roster->log.name != enrolment.origin()) {
    return fail(Code::kConflict,
                "the base's roster names another ledger than the base does; check the base");
  }
  older_rosters_.clear();
  for (const std::string& note : enrolment.older_roster()) {
    auto older = record::open_roster(note);
    if (!older) return fail_at("an older roster of the base: ", older.error());
    // Of this generation or one before it: what joins them is the root.
    if (older->root != roster->root || older->base_name != roster->base_name) {
      return fail(Code::kConflict,
                  "an older roster of the base is signed by another root key; check the base");
    }
    older_rosters_.push_back(std::move(*older));
  }
  roster_ = std::move(*roster);
  return {};
}

// The base's rosters change; their root does not. An older roster is well signed too: a base that
// leaves out what this truck has heard of, or names a key again that was given up, would put keys
// in force that may be in anybody's hands by now.
Status UplinkState::follow_roster(v1::Enrolment held, const v1::Enrolment& told) {
  if (auto ok = open_enrolment(held); !ok) return ok;
  if (told.roster() == held.roster()) return {};
  std::vector<record::Roster> heard = older_rosters_;
  heard.push_back(*roster_);
  if (auto ok = open_enrolment(told); !ok) return ok;
  if (auto ok = record::check_succession(heard.back(), *roster_); !ok) return ok;
  const auto tells = [&](const std::string& note) {
    return std::ranges::find(told.older_roster(), note) != told.older_roster().end();
  };
  if (!tells(held.roster()) || !std::ranges::all_of(held.older_roster(), tells)) {
    return fail(Code::kConflict,
                "the base leaves out a roster that this truck has heard of; check the base");
  }
  std::vector<const record::Roster*> before;
  for (const record::Roster& roster : heard) before.push_back(&roster);
  if (auto ok = record::check_not_given_up(before, *roster_); !ok) return ok;
  held.set_roster(told.roster());
  *held.mutable_older_roster() = told.older_roster();
  return store_.keep_rosters(held);
}

bool UplinkState::is_by_admin(const record::EntryHeader& header, const record::EntryBytes& entry,
                              bool ever) const {
  const auto names = [&](const record::Roster& roster) {
    return std::ranges::any_of(roster.admins, [&](const record::RosterKey& admin) {
      return admin.device_id == header.device_id && record::verify_entry(entry, admin.key.key);
    });
  };
  return names(*roster_) || (ever && std::ranges::any_of(older_rosters_, names));
}

// Nothing is known yet of this base: what it says now is what the truck will hold it to.
Status UplinkState::first_contact(const v1::Enrolment& enrolment) {
  if (auto ok = open_enrolment(enrolment); !ok) return ok;
  if (enrolment.leaf_data().size() != record::kLeafDataSize) {
    return fail(Code::kBadInput, "the base's enrolment has no leaf of 297 bytes; update the base");
  }
  const auto entry = array_of<record::kEntrySize>(
      enrolment.leaf_data().substr(1, record::kEntrySize), "enrolment entry");
  if (!entry) return std::unexpected(entry.error());
  const auto header = record::decode_header(*entry);
  if (!header) return fail_at("the base's enrolment: ", header.error());
  if (header->kind != record::Kind::kEnrol || !is_by_admin(*header, *entry, true)) {
    return fail(Code::kConflict,
                "the base's enrolment is not signed by an admin key of its roster");
  }
  return store_.keep_enrolment(enrolment);
}

Status UplinkState::take_enrolment(const v1::Resume& resume) {
  const auto held = store_.enrolment();
  if (!held) return std::unexpected(held.error());
  if (!held->has_value()) return first_contact(resume.enrolment());
  if (resume.enrolment().origin() == (*held)->origin())
    return follow_roster(**held, resume.enrolment());
  if (auto ok = open_enrolment(**held); !ok) return ok;
  return take_generations(resume, **held);
}

Status UplinkState::take_resume(const v1::Resume& resume) {
  if (streaming_)
    return fail(Code::kBadInput, "the base said twice where to resume; connect again");
  if (auto ok = take_enrolment(resume); !ok) return ok;
  resumed_ = true;
  if (!resume.checkpoint().empty()) {
    if (auto ok = take_head(resume.checkpoint(), resume.consistency()); !ok) return ok;
  }
  if (opening_) {
    if (auto ok = open_epoch(resume); !ok) return ok;
  }
  const auto tip = store_.tip();
  if (!tip) return std::unexpected(tip.error());
  const auto same = agrees(resume, *tip);
  if (!same) return std::unexpected(same.error());
  if (*same) return begin_streaming(resume, *tip);
  if (opening_) {
    return fail(Code::kConflict,
                fmt::format("the base opened epoch {} for this truck and now "
                            "resumes at {} of epoch {}; check the base",
                            opening_->recovery.epoch(), resume.acked_seq(), resume.epoch()));
  }
  return begin_differs(resume, *tip);
}

Status UplinkState::begin_streaming(const v1::Resume& resume, const Tip& tip) {
  epoch_ = tip.epoch;
  sent_seq_ = acked_seq_ = resume.acked_seq();
  if (resume.window_entries() > 0)
    window_entries_ = std::min<size_t>(resume.window_entries(), kWindowEntries);
  if (resume.window_bytes() > 0)
    window_bytes_ = std::min<size_t>(resume.window_bytes(), kWindowBytes);
  if (auto ok = sort_bodies(resume); !ok) return ok;
  opening_.reset();
  streaming_ = true;
  return store_.say_lost(epoch_, acked_seq_);
}

Status UplinkState::take_head(const std::string& note,
                              const google::protobuf::RepeatedPtrField<std::string>& proof) {
  const auto head = open_head(note, roster_->log);
  if (!head) return fail(Code::kConflict, head.error().message);
  const auto seen = store_.seen_head();
  if (!seen) return std::unexpected(seen.error());
  if (head->size < seen->size) {
    return fail(Code::kConflict,
                fmt::format("the base's ledger has {} entries, but this truck has seen {}: the "
                            "base was restored from an older copy",
                            head->size, seen->size));
  }
  if (seen->size > 0) {
    const std::vector<std::string> path(proof.begin(), proof.end());
    const auto hashes = record::proof_of_bytes(path);
    if (!hashes) return fail_at("the base's consistency proof: ", hashes.error());
    if (!record::verify_consistency(seen->size, seen->root, head->size, head->root, *hashes)) {
      return fail(Code::kConflict,
                  fmt::format("the base's head of {} entries does not extend the head of {} this "
                              "truck has seen: its record was rewritten",
                              head->size, seen->size));
    }
  }
  if (head->size == seen->size) return {};
  return store_.keep_head(*head, note);
}

Status UplinkState::take_news(const v1::Head& news) {
  const auto head = open_head(news.checkpoint(), roster_->log);
  if (!head) return fail(Code::kConflict, head.error().message);
  const auto seen = store_.seen_head();
  if (!seen) return std::unexpected(seen.error());
  if (head->size < seen->size) return {};
  auto taken = head->size == seen->size && head->root == seen->root
                   ? Status{}
                   : take_head(news.checkpoint(), news.consistency());
  if (!taken && taken.error().code == Code::kConflict) taken.error().code = Code::kBadInput;
  if (!taken || news.cosigned().empty()) return taken;
  return take_cosigned(news);
}

// Whose cosignatures they are the truck cannot tell: it knows no countersigner's key. It keeps the
// note for whoever does.
Status UplinkState::take_cosigned(const v1::Head& news) {
  const auto head = open_head(news.checkpoint(), roster_->log);
  const auto cosigned = open_head(news.cosigned(), roster_->log);
  if (!head || !cosigned) {
    return fail(Code::kConflict, "the base's countersigned head: " +
                                     (head ? cosigned.error().message : head.error().message));
  }
  const std::vector<std::string> path(news.cosigned_consistency().begin(),
                                      news.cosigned_consistency().end());
  const auto hashes = record::proof_of_bytes(path);
  if (!hashes) return fail_at("the base's countersigned head: ", hashes.error());
  if (!record::verify_consistency(cosigned->size, cosigned->root, head->size, head->root,
                                  *hashes)) {
    return fail(Code::kConflict,
                fmt::format("the base's head of {} entries does not extend its countersigned head "
                            "of {}: its record was rewritten",
                            head->size, cosigned->size));
  }
  return store_.keep_cosigned(*cosigned, news.cosigned());
}

Status UplinkState::take_receipt(const v1::Receipt& receipt) {
  if (receipt.epoch() < epoch_) return {};  // Of before the epoch was opened.
  const auto head = open_head(receipt.checkpoint(), roster_->log);
  if (!head) return fail(Code::kConflict, head.error().message);
  auto own = store_.entries_from(epoch_, receipt.seq(), 1);
  if (!own) return std::unexpected(own.error());
  const std::vector<std::string> path(receipt.path().begin(), receipt.path().end());
  const auto hashes = record::proof_of_bytes(path);
  if (!hashes) return fail_at("the base's receipt: ", hashes.error());
  if (receipt.epoch() != epoch_ || own->size() != 1 ||
      !record::verify_inclusion(receipt.leaf_index(), head->size,
                                record::leaf_hash_of(own->front().entry, receipt.recv_us()),
                                *hashes, head->root)) {
    return fail(Code::kConflict,
                fmt::format("the base's receipt for {} does not prove it", receipt.seq()));
  }
  receipted_seq_ = std::max(receipted_seq_, receipt.seq());
  return store_.keep_receipt(receipt);
}

// Only the newest roster this truck knows counts. An order of a key given up is nobody's; one of a
// key not heard of may be of a roster that this connection began too early to be told of.
Status UplinkState::check_order(const v1::SignedOrder& order) const {
  const auto entry = array_of<record::kEntrySize>(order.entry(), "order");
  if (!entry) return std::unexpected(entry.error());
  const auto header = record::decode_header(*entry);
  if (!header) return fail_at("order: ", header.error());
  const auto salt = array_of<16>(order.salt(), "order's salt");
  if (!salt) return std::unexpected(salt.error());
  const std::string name = fmt::format("the order at leaf {}", order.leaf_index());
  if (header->kind != record::Kind::kOrder || !record::body_matches(*header, *salt, order.body())) {
    return fail(Code::kConflict, name + " is not the one that was signed; check the base");
  }
  if (is_by_admin(*header, *entry, false)) return {};
  if (is_by_admin(*header, *entry, true)) {
    return fail(Code::kConflict, name +
                                     " is signed by an admin key that the base's roster names no "
                                     "longer; check the base");
  }
  return fail(Code::kBadInput,
              name +
                  " is not signed by an admin key of the roster this truck knows; a newer one "
                  "comes with the next connection");
}

Status UplinkState::take_orders(const v1::Orders& orders) {
  for (const v1::SignedOrder& order : orders.order()) {
    if (auto ok = check_order(order); !ok) return ok;
  }
  if (auto ok = store_.keep_orders(orders); !ok) return ok;
  held_orders_to_say_ = true;
  return {};
}

}  // namespace fairlead::uplink
