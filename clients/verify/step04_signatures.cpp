// 4: every entry is signed by the key that was valid at its leaf. Admin and service keys come from
// the pinned rosters, device keys from ENROL and ROTATE entries signed by an admin. Where the
// roster in force names officers, or the policy asks for them, a truck's ENROL carries an officer's
// signature.
#include <algorithm>

#include "clients/verify/steps.h"
#include "daemon/record/enrolment.h"
#include "daemon/record/generation.h"

namespace fairlead::verifier {
namespace {

using record::Kind;

const record::RosterKey* find_key(const std::vector<record::RosterKey>& keys,
                                  const record::Id16& device_id) {
  for (const auto& key : keys) {
    if (key.device_id == device_id) return &key;
  }
  return nullptr;
}

/// Kinds the base's admin key signs besides the base's own: its clock and life, and cards of
/// people.
bool is_admin_kind(Kind kind) {
  switch (kind) {
    case Kind::kStart:
    case Kind::kStop:
    case Kind::kClock:
    case Kind::kGap:
    case Kind::kCard:
      return true;
    default:
      return record::is_base_kind(kind) && !record::is_service_kind(kind);
  }
}

class SignatureCheck {
 public:
  SignatureCheck(Case& c, Verdicts& verdicts) : c_(c), verdicts_(verdicts) {}

  void run() {
    for (Item& item : c_.items) {
      // Who may sign after a roster the reader does not know is not known either.
      if (stopped_) break;
      check(item);
    }
    check_seams();
    if (!verdicts_.failed(4)) {
      verdicts_.add(4, Mark::kGood,
                    std::to_string(c_.items.size()) + " signatures, " +
                        std::to_string(c_.devices.size()) + " enrolled devices");
    }
  }

 private:
  void bad(const Item& item, const std::string& words) {
    verdicts_.add(4, Mark::kDisproven, name_of(item) + " " + words);
  }

  void check(Item& item) {
    const record::EntryHeader& header = item.header;
    if (header.kind == Kind::kRoster && item.raw->leaf > 0 && !learn_roster(item)) return;
    const record::Roster& roster = roster_at(c_, item.raw->leaf);
    if (const auto* admin = find_key(roster.admins, header.device_id)) {
      if (!is_admin_kind(header.kind)) return bad(item, "is of a kind no admin key may sign");
      verify_with(item, admin->key.key);
      if (item.signed_well) learn(item);
    } else if (const auto* service = find_key(roster.services, header.device_id)) {
      if (!record::is_service_kind(header.kind)) {
        return bad(item, "is of a kind no service key may sign");
      }
      verify_with(item, service->key.key);
    } else if (admin_roster(c_, header.device_id) || service_roster(c_, header.device_id)) {
      bad(item, "is by a key the roster in force no longer names");
    } else {
      check_device(item);
    }
  }

  /// A later roster vouches for itself: by the root's signature and the policy that pins it.
  bool learn_roster(const Item& item) {
    const auto body = body_as<v1::RosterBody>(item);
    auto roster = record::open_roster(body ? body->note() : "");
    if (!body || !roster) {
      bad(item, "must be shown with a roster its root has signed");
      return false;
    }
    // Of an earlier generation: the seam vouches for it, by the same root.
    if (roster->log.name != c_.policy.origin() && roster->root == c_.rosters.front().roster.root)
      return true;
    const Hash fingerprint = record::roster_fingerprint(body->note());
    const auto& pinned = c_.policy.rosters;
    if (std::find(pinned.begin(), pinned.end(), fingerprint) == pinned.end()) {
      verdicts_.add(4, Mark::kUnknown,
                    name_of(item) + " brings roster " + hex_of(fingerprint) +
                        ", which the policy does not name; ask for it and pin it too. Nothing "
                        "after it is checked");
      stopped_ = true;
      return false;
    }
    if (const auto ok = record::check_succession(c_.rosters.back().roster, *roster); !ok) {
      bad(item, "brings a roster that cannot follow: " + ok.error().message);
      return false;
    }
    c_.rosters.push_back({std::move(*roster), fingerprint, item.raw->leaf});
    return true;
  }

  void verify_with(Item& item, const PublicKey& key) {
    item.signed_well =
        item.header.key_id == record::key_id_of(key) && record::verify_entry(item.raw->entry, key);
    if (!item.signed_well) bad(item, "is not signed by the key of its writer");
  }

  void check_device(Item& item) {
    if (record::is_base_kind(item.header.kind)) {
      return bad(item, "is of a kind only the base may write");
    }
    const auto found = c_.devices.find(item.header.device_id);
    if (found == c_.devices.end()) {
      verdicts_.add(4, Mark::kUnknown,
                    name_of(item) + " is of device " + hex_of(item.header.device_id) +
                        ", which no entry before it enrols");
      return;
    }
    const Device& device = found->second;
    const Device::Span* valid = nullptr;
    for (const auto& span : device.keys) {
      if (item.raw->leaf > span.after_leaf) valid = &span;
    }
    if (valid == nullptr) return bad(item, "is older than its device's enrolment");
    verify_with(item, valid->key);
    item.quarantined = device.last_trusted && record::place_of(item.header) > *device.last_trusted;
    if (item.header.kind == Kind::kRecovered && item.has_body()) check_recovered(item, device);
  }

  /// What was brought in again must be this device's own, signed in an earlier epoch.
  void check_recovered(const Item& item, const Device& device) {
    const auto body = body_as<v1::RecoveredBody>(item);
    const auto entry = array_of<record::kEntrySize>(body ? body->entry() : "", "entry");
    const auto inner = entry ? record::decode_header(*entry)
                             : Result<record::EntryHeader>(std::unexpected(entry.error()));
    const auto by = [&](const Device::Span& span) {
      return record::verify_entry(*entry, span.key);
    };
    if (!inner || inner->device_id != item.header.device_id || inner->epoch >= item.header.epoch ||
        inner->job_id != item.header.job_id ||
        !std::any_of(device.keys.begin(), device.keys.end(), by)) {
      bad(item, "brings in what its device did not sign in an earlier epoch");
    }
  }

  /// Takes up what an admin's entry says about keys.
  void learn(const Item& item) {
    switch (item.header.kind) {
      case Kind::kEnrol:
        return learn_enrol(item);
      case Kind::kRotate:
        return learn_rotate(item);
      case Kind::kRevoke:
        return learn_revoke(item);
      case Kind::kRestore:
      case Kind::kFork:
        if (!item.has_body()) return bad(item, "must be shown with its body");
        if (item.header.kind == Kind::kRestore) learn_restore(item);
        return;
      default:
        return;
    }
  }

  void learn_enrol(const Item& item) {
    if (!item.has_body()) return;  // Of a device the bundle does not speak of.
    const auto body = body_as<v1::EnrolBody>(item);
    const auto id = array_of<16>(body ? body->device_id() : "", "device id");
    const auto key = array_of<32>(body ? body->public_key() : "", "key");
    if (!id || !key) return bad(item, "does not name a device and its key");
    if (admin_roster(c_, *id) || service_roster(c_, *id) || c_.devices.contains(*id)) {
      return bad(item, "enrols a device id that is already in use");
    }
    if (body->kind() != v1::EnrolBody::IMPORT) check_officer(item, *body, *id, PublicKey{*key});
    Device device;
    device.enrol_leaf = item.raw->leaf;
    device.enrol_leaf_hash = item.leaf_hash;
    device.name = body->device_name();
    device.is_import = body->kind() == v1::EnrolBody::IMPORT;
    device.keys.push_back({PublicKey{*key}, item.raw->leaf});
    c_.devices.emplace(*id, std::move(device));
  }

  void check_officer(const Item& item, const v1::EnrolBody& body, const record::Id16& id,
                     const PublicKey& key) {
    const record::Roster& roster = roster_at(c_, item.raw->leaf);
    if (roster.officers.empty() && !c_.policy.officers_required) return;
    const auto binding = array_of<32>(body.code_binding(), "code binding");
    const auto signature = array_of<64>(body.officer_signature(), "signature");
    if (!binding || !signature ||
        !record::is_officer_signed(roster, body.officer(),
                                   record::enrol_statement(id, key, *binding),
                                   Signature{*signature})) {
      bad(item, "enrols a truck without the signature of an officer of the roster");
    }
  }

  /// A RESTORE of the base ends a generation; both log keys and the root key sign the seam.
  void learn_restore(const Item& item) {
    const auto body = body_as<v1::RestoreBody>(item);
    if (!body) return bad(item, "must be shown with its body");
    if (!body->device_id().empty()) return;
    Ancestor ancestor;
    ancestor.origin = body->old_origin();
    ancestor.ledger_id = record::ledger_id_of(body->old_origin());
    ancestor.kept_size = body->kept_size();
    ancestor.roster = body->roster();
    ancestor.leaf = item.raw->leaf;
    const auto note = record::parse_note(body->last_head());
    if (const auto head = note ? record::parse_checkpoint(note->text)
                               : Result<record::Checkpoint>(std::unexpected(note.error())))
      ancestor.last_size = head->size;
    if (ancestor.kept_size > item.raw->leaf) return bad(item, "keeps more than stands before it");
    c_.ancestors.push_back(std::move(ancestor));
    seams_.push_back({&item, *body});
  }

  /// The rosters of all generations hang together, from the first to the one the policy pins.
  void check_seams() {
    std::string note;
    for (const Item& item : c_.items) {
      const auto body =
          item.header.kind == Kind::kRoster ? body_as<v1::RosterBody>(item) : std::nullopt;
      if (body && note.empty()) note = body->note();
    }
    for (const auto& [item, body] : seams_) {
      const auto old = record::open_roster(note);
      if (!old) return bad(*item, "follows a generation whose roster the bundle does not show");
      const auto next = record::open_seam(body, *old);
      if (!next) return bad(*item, "does not join two generations: " + next.error().message);
      note = body.roster();
      if (body.old_signature().empty()) {
        verdicts_.add(4, Mark::kNote,
                      name_of(*item) + " is not signed by the log key before it, which was lost");
      }
    }
    const auto last = record::open_roster(note);
    if (!seams_.empty() &&
        (!last || last->root != c_.rosters.front().roster.root || last->log != c_.policy.log)) {
      bad(*seams_.back().first, "does not lead to the generation the policy names");
    }
  }

  void learn_rotate(const Item& item) {
    const auto body = body_as<v1::RotateBody>(item);
    const auto id = array_of<16>(body ? body->device_id() : "", "device id");
    const auto old_key = array_of<32>(body ? body->old_public_key() : "", "key");
    const auto new_key = array_of<32>(body ? body->new_public_key() : "", "key");
    const auto old_signature = array_of<64>(body ? body->old_signature() : "", "signature");
    const auto new_signature = array_of<64>(body ? body->new_signature() : "", "signature");
    if (!id || !old_key || !new_key || !old_signature || !new_signature) {
      return bad(item, "must be shown with its body and both signatures");
    }
    const auto found = c_.devices.find(*id);
    if (found == c_.devices.end()) return;  // Not a device of this bundle.
    const std::string message =
        record::rotate_statement(*id, PublicKey{*old_key}, PublicKey{*new_key});
    if (found->second.keys.back().key.bytes != *old_key ||
        !verify(PublicKey{*old_key}, message, Signature{*old_signature}) ||
        !verify(PublicKey{*new_key}, message, Signature{*new_signature})) {
      return bad(item, "is not signed by the old and the new key");
    }
    found->second.keys.push_back({PublicKey{*new_key}, item.raw->leaf});
  }

  void learn_revoke(const Item& item) {
    const auto body = body_as<v1::RevokeBody>(item);
    const auto id = array_of<16>(body ? body->device_id() : "", "device id");
    if (!id) return bad(item, "must be shown with its body");
    const auto found = c_.devices.find(*id);
    if (found == c_.devices.end()) return;
    const record::ChainPlace place{body->last_epoch(), body->last_seq()};
    auto& trusted = found->second.last_trusted;
    if (!trusted || place < *trusted) trusted = place;
    // Entries taken in before the key was revoked may stand after the last trusted one too.
    for (Item& other : c_.items) {
      if (other.header.device_id == *id && record::place_of(other.header) > *trusted) {
        other.quarantined = true;
      }
    }
  }

  Case& c_;
  Verdicts& verdicts_;
  bool stopped_ = false;
  std::vector<std::pair<const Item*, v1::RestoreBody>> seams_;
};

}  // namespace

void check_signatures(Case& c, Verdicts& verdicts) { SignatureCheck(c, verdicts).run(); }

}  // namespace fairlead::verifier
