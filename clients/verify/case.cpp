#include "clients/verify/case.h"

#include "daemon/record/leaf.h"

namespace fairlead::verifier {
namespace {

using record::Bundle;
using record::Kind;

bool is_policy_key(const Policy& policy, const record::NoteSignature& signature) {
  const auto fits = [&](const record::VerifierKey& key) {
    return key.id == signature.id && key.name == signature.name;
  };
  return fits(policy.log) ||
         std::any_of(policy.countersigners.begin(), policy.countersigners.end(), fits);
}

/// Every signature line must be by a policy key, and one by the log key.
bool check_signers(const record::Note& note, const Policy& policy, const std::string& what,
                   int step, Verdicts& verdicts) {
  bool by_log = false, by_strangers = false;
  for (const auto& signature : note.signatures) {
    if (!is_policy_key(policy, signature)) by_strangers = true;
    if (signature.id == policy.log.id && signature.name == policy.log.name) by_log = true;
  }
  if (!by_log) {
    verdicts.add(step, Mark::kUnknown,
                 what + " is not signed by the log key the policy names (" + policy.log.name +
                     "); it comes from another base, or the policy is an old one");
    return false;
  }
  if (by_strangers) {
    verdicts.add(step, Mark::kMalformed,
                 what +
                     " has a signature line by a key the policy does "
                     "not name");
    return false;
  }
  return true;
}

bool open_heads(Case& c, Verdicts& verdicts) {
  for (std::string_view bytes : c.bundle.heads) {
    const std::string what = "head " + std::to_string(c.heads.size() + 1);
    auto note = record::parse_note(bytes);
    if (!note) {
      verdicts.add(0, Mark::kMalformed, what + ": " + note.error().message);
      return false;
    }
    if (!check_signers(*note, c.policy, what, 2, verdicts)) return false;
    auto checkpoint = record::parse_checkpoint(note->text);
    if (!checkpoint) {
      verdicts.add(0, Mark::kMalformed, what + ": " + checkpoint.error().message);
      return false;
    }
    if (!c.heads.empty() && checkpoint->size <= c.heads.back().checkpoint.size) {
      verdicts.add(0, Mark::kMalformed, what + ": heads do not ascend in size");
      return false;
    }
    c.heads.push_back({std::move(*checkpoint), std::move(*note), {}});
  }
  return true;
}

bool open_roster(Case& c, Verdicts& verdicts) {
  const Hash fingerprint = record::roster_fingerprint(c.bundle.roster);
  const auto& pinned = c.policy.rosters;
  if (std::find(pinned.begin(), pinned.end(), fingerprint) == pinned.end()) {
    verdicts.add(0, Mark::kUnknown,
                 "roster " + hex_of(fingerprint) +
                     " is not one the policy names; compare it with the "
                     "contract before pinning it");
    return false;
  }
  auto roster = record::open_roster(c.bundle.roster);
  if (!roster) {
    verdicts.add(0, Mark::kMalformed, roster.error().message);
    return false;
  }
  if (c.policy.officers_required && roster->officers.empty()) {
    verdicts.add(0, Mark::kUnknown,
                 "the policy asks for officers' signatures, but the roster names no officer");
    return false;
  }
  c.rosters.push_back({std::move(*roster), fingerprint, 0});
  return true;
}

bool open_meta(Case& c, Verdicts& verdicts) {
  const auto fits = [](const std::string& bytes, size_t size) { return bytes.size() == size; };
  if (!c.meta.ParseFromArray(c.bundle.meta.data(), static_cast<int>(c.bundle.meta.size())) ||
      c.meta.SerializeAsString() != c.bundle.meta ||
      !c.meta.GetReflection()->GetUnknownFields(c.meta).empty() || !fits(c.meta.job_id(), 16) ||
      !fits(c.meta.device_id(), 16) ||
      (!fits(c.meta.report_sha256(), 0) && !fits(c.meta.report_sha256(), 32))) {
    verdicts.add(0, Mark::kMalformed, "section META does not name a job and its device");
    return false;
  }
  if (c.meta.origin() != c.policy.origin()) {
    verdicts.add(0, Mark::kUnknown, "the bundle is of another log than the policy names");
    return false;
  }
  return true;
}

void open_items(Case& c) {
  c.items.reserve(c.bundle.entries.size());
  for (const record::BundleEntry& entry : c.bundle.entries) {
    Item item;
    item.raw = &entry;
    item.header = record::decode_header(entry.entry).value();  // read_bundle has tried it.
    item.leaf_hash = record::leaf_hash_of(entry.entry, entry.recv_us);
    c.items.push_back(item);
  }
}

/// The job the bundle says it is about, with the places its entries really give.
void find_job(Case& c) {
  const auto job_id = array_of<16>(c.meta.job_id(), "job").value();
  const auto device_id = array_of<16>(c.meta.device_id(), "device").value();
  std::optional<record::ChainPlace> open, close;
  for (const Item& item : c.items) {
    if (item.header.job_id != job_id || item.header.device_id != device_id) continue;
    const auto place = record::place_of(item.header);
    const Kind kind = kind_in_job(item);
    if (kind == Kind::kJobOpen && (!open || place < *open)) open = place;
    if (kind == Kind::kJobClose && (!close || place > *close)) close = place;
  }
  if (open) c.job = record::JobSpan{job_id, device_id, *open, close};
}

}  // namespace

const record::Roster& roster_at(const Case& c, uint64_t leaf) {
  const RosterSpan* found = &c.rosters.front();
  for (const RosterSpan& span : c.rosters) {
    if (span.from_leaf <= leaf) found = &span;
  }
  return found->roster;
}

namespace {

const RosterSpan* first_with(const Case& c, std::vector<record::RosterKey> record::Roster::* group,
                             const record::Id16& device_id) {
  for (const RosterSpan& span : c.rosters) {
    for (const record::RosterKey& key : span.roster.*group) {
      if (key.device_id == device_id) return &span;
    }
  }
  return nullptr;
}

}  // namespace

const RosterSpan* admin_roster(const Case& c, const record::Id16& device_id) {
  return first_with(c, &record::Roster::admins, device_id);
}

const RosterSpan* service_roster(const Case& c, const record::Id16& device_id) {
  return first_with(c, &record::Roster::services, device_id);
}

record::Kind kind_in_job(const Item& item) {
  if (item.header.kind != Kind::kRecovered) return item.header.kind;
  const auto body = body_as<v1::RecoveredBody>(item);
  const auto inner = body ? record::decode_header(body->entry())
                          : Result<record::EntryHeader>(fail(Code::kNotFound, "no body"));
  return inner ? inner->kind : item.header.kind;
}

std::string name_of(const Item& item) {
  return "entry at leaf " + std::to_string(item.raw->leaf) + " (" +
         record::kind_name(item.header.kind) + ")";
}

std::optional<Case> open_case(std::string_view bytes, const Policy& policy, Verdicts& verdicts) {
  auto bundle = record::read_bundle(bytes);
  if (!bundle) {
    verdicts.add(0, Mark::kMalformed, bundle.error().message);
    return std::nullopt;
  }
  std::optional<Case> c(Case{policy, std::move(*bundle), {}, {}, {}, {}, {}, {}, {}, {}});
  if (!open_meta(*c, verdicts) || !open_heads(*c, verdicts) || !open_roster(*c, verdicts)) {
    return std::nullopt;
  }
  open_items(*c);
  find_job(*c);
  verdicts.add(0, Mark::kGood,
               std::to_string(c->items.size()) + " entries, " + std::to_string(c->heads.size()) +
                   " heads, " + std::to_string(c->bundle.files.size()) + " files, " +
                   std::to_string(c->bundle.attachments.size()) + " attachments of " +
                   policy.origin() + ", job " + hex_of(c->meta.job_id()));
  return c;
}

}  // namespace fairlead::verifier
