#include "daemon/desk/bundle.h"

#include <algorithm>
#include <map>
#include <set>

#include "daemon/record/bundle.h"
#include "daemon/record/checkpoint.h"
#include "daemon/record/job_span.h"

namespace fairlead::desk {
namespace {

using ledger::BodyState;
using ledger::StoredEntry;
using record::Kind;

constexpr uint64_t kToTheEnd = uint64_t{1} << 62;

/// Gathers entries by leaf, then writes them in the form the verifier reads.
class Maker {
 public:
  Maker(Desk& desk, const watch::JobRecord& job) : desk_(desk), ledger_(desk.ledger()), job_(job) {}

  Result<std::string> make(const BundleOptions& options) {
    const auto entries = ledger_.job_entries(job_.row.job_id);
    if (!entries) return std::unexpected(entries.error());
    for (const StoredEntry& entry : *entries) add(entry);
    find_span();
    if (auto ok = add_cosigned(*entries); !ok) return std::unexpected(ok.error());
    for (auto step : {&Maker::add_lost, &Maker::add_chains, &Maker::add_admin_chain}) {
      if (auto ok = (this->*step)(); !ok) return std::unexpected(ok.error());
    }
    const auto head = ledger_.sign_head();
    if (!head) return std::unexpected(head.error());
    return write(*head, options);
  }

 private:
  void add(const StoredEntry& entry) { entries_.insert_or_assign(entry.leaf, entry); }

  void find_span() {
    span_.job_id = job_.row.job_id;
    span_.device_id = job_.row.device_id;
    for (const auto& [leaf, entry] : entries_) {
      if (leaf == job_.row.open_leaf) span_.open = record::place_of(entry.header());
      if (job_.row.close_leaf && leaf == *job_.row.close_leaf)
        span_.close = record::place_of(entry.header());
    }
  }

  // The heads that bound when the job's entries were made, with the HEAD_COSIGNED entries their
  // device had seen; and the newest one.
  Status add_cosigned(const std::vector<StoredEntry>& entries) {
    if (desk_.countersigning == nullptr) return {};
    const watch::CosignedHeads& known = desk_.countersigning->heads();
    std::map<uint64_t, watch::CosignedHeads::Head> chosen;  // By HEAD_COSIGNED leaf.
    const auto choose = [&](const std::optional<watch::CosignedHeads::Head>& head, bool entry) {
      if (!head) return;
      chosen[head->entry_leaf] = *head;
      if (entry) seen_cosigned_.insert(head->entry_leaf);
    };
    choose(known.newest(), false);
    for (const StoredEntry& entry : entries) {
      const auto header = entry.header();
      if (header.device_id != job_.row.device_id) continue;
      choose(known.first_covering(entry.leaf), false);
      choose(known.entered_before(header.seen_size), true);
    }
    for (const auto& [leaf, head] : chosen) {
      auto note = watch::CosignedHeads::note_of(ledger_, head);
      if (!note) return std::unexpected(note.error());
      heads_[head.size] = std::move(*note);
    }
    for (const uint64_t leaf : seen_cosigned_) {
      const auto entry = ledger_.entry(leaf);
      if (!entry) return std::unexpected(entry.error());
      add(*entry);
    }
    return {};
  }

  // What the truck said of bodies that nobody holds any more.
  Status add_lost() {
    const bool any = std::ranges::any_of(
        entries_, [](const auto& entry) { return entry.second.body_state == BodyState::kErased; });
    constexpr size_t kPage = 1'000;
    for (uint64_t from = 0; any;) {
      const auto page = ledger_.entries_of_kind(Kind::kGap, from, kPage);
      if (!page) return std::unexpected(page.error());
      for (const StoredEntry& entry : *page) {
        v1::GapBody gap;
        if (entry.header().device_id != span_.device_id || !gap.ParseFromString(entry.body) ||
            gap.lost_body_seq().empty())
          continue;
        lost_said_.insert(entry.leaf);
        add(entry);
      }
      if (page->size() < kPage) break;
      from = page->back().leaf + 1;
    }
    return {};
  }

  // Every chain that has an entry here is shown whole from its first to its last.
  Status add_chains() {
    std::map<std::pair<record::Id16, uint32_t>, std::pair<uint64_t, uint64_t>> ends;
    for (const auto& [leaf, entry] : entries_) {
      const auto header = entry.header();
      const auto [it, fresh] =
          ends.try_emplace({header.device_id, header.epoch}, header.seq, header.seq);
      it->second.first = std::min(it->second.first, header.seq);
      it->second.second = std::max(it->second.second, header.seq);
      devices_.insert(header.device_id);
    }
    for (const auto& [chain, seqs] : ends) {
      if (auto ok = add_range(chain.first, chain.second, seqs.first, seqs.second); !ok) return ok;
    }
    return {};
  }

  // The officers' chain from its beginning, so that no revoked key can be hidden.
  Status add_admin_chain() {
    std::set<record::Id16> admins;
    for (const record::Roster* roster : desk_.office.rosters()) {
      for (const record::RosterKey& admin : roster->admins) admins.insert(admin.device_id);
    }
    for (const record::Id16& admin : admins) {
      const auto mark = ledger_.watermark(admin);
      if (!mark && mark.error().code == Code::kNotFound) continue;  // Has never written.
      if (!mark) return std::unexpected(mark.error());
      // Each generation of the ledger is an epoch of this chain.
      for (uint32_t epoch = 1; epoch < mark->epoch; ++epoch) {
        if (auto ok = add_range(admin, epoch, 1, kToTheEnd); !ok) return ok;
      }
      if (auto ok = add_range(admin, mark->epoch, 1, mark->seq); !ok) return ok;
    }
    return {};
  }

  Status add_range(const record::Id16& device, uint32_t epoch, uint64_t first, uint64_t last) {
    constexpr size_t kPage = 256;
    while (first <= last) {
      const auto page = ledger_.device_entries(device, epoch, first,
                                               std::min<uint64_t>(kPage, last - first + 1), true);
      if (!page) return std::unexpected(page.error());
      if (page->empty() && last == kToTheEnd) return {};
      if (page->empty())
        return fail(Code::kCorrupt, "the ledger holds less of a chain than it says");
      for (const StoredEntry& entry : *page) add(entry);
      first += page->size();
    }
    return {};
  }

  // What a stranger must see of this entry; the rest is a bare header.
  bool shows_body(const StoredEntry& entry, const record::EntryHeader& header) const {
    if (record::must_show_body(header, span_)) return true;
    switch (header.kind) {
      case Kind::kEnrol: {
        v1::EnrolBody body;
        const bool read = body.ParseFromString(entry.body);
        const auto id = array_of<16>(read ? body.device_id() : "", "device");
        return id && devices_.contains(*id);
      }
      case Kind::kRoster:
      case Kind::kRevoke:
      case Kind::kRotate:
      case Kind::kRestore:
      case Kind::kFork:
      case Kind::kErase:
        return true;
      case Kind::kGap:
        return lost_said_.contains(entry.leaf);
      case Kind::kHeadCosigned:
        return seen_cosigned_.contains(entry.leaf);
      case Kind::kInForce:
      case Kind::kClock:
        return header.device_id == span_.device_id;
      case Kind::kRegister: {
        // Since when the job's own files were on record; nobody else's.
        v1::RegisterFileBody body;
        if (!body.ParseFromString(entry.body)) return false;
        const Hash sha = sha256(body.content());
        return std::ranges::any_of(
            job_.pins, [&](const v1::Pin& pin) { return pin.sha256() == view_of(sha); });
      }
      default:
        return false;
    }
  }

  Result<std::string> write(const ledger::SignedHead& head, const BundleOptions& options) {
    record::Bundle bundle;
    v1::BundleMeta meta;
    meta.set_origin(desk_.office.origin());
    meta.set_job_id(string_of(job_.row.job_id));
    meta.set_device_id(string_of(job_.row.device_id));
    if (!options.report_json.empty())
      meta.set_report_sha256(string_of(sha256(options.report_json)));
    const std::string meta_bytes = meta.SerializeAsString();
    bundle.meta = meta_bytes;
    if (auto ok = take_report_head(options.report_head); !ok) return std::unexpected(ok.error());
    heads_.try_emplace(head.size, head.note);
    heads_.erase(heads_.upper_bound(head.size), heads_.end());
    for (const auto& [size, note] : heads_) bundle.heads.push_back(note);
    const std::string first_roster = desk_.office.first_roster_note();
    bundle.roster = first_roster;
    if (auto ok = write_entries(head.size, bundle); !ok) return std::unexpected(ok.error());
    if (auto ok = write_files(options, bundle); !ok) return std::unexpected(ok.error());
    if (auto ok = write_attachments(bundle); !ok) return std::unexpected(ok.error());
    return record::write_bundle(bundle, desk_.office.origin(), desk_.office.roster().log,
                                *desk_.office.log_key());
  }

  // A head of an earlier generation may lie in the end that was lost with a disk.
  bool is_in_tree(const record::EntryHeader& header) const {
    for (const watch::Ancestor& ancestor : desk_.office.heads().ancestors()) {
      if (ancestor.ledger_id == header.ledger_id) return header.seen_size <= ancestor.kept_size;
    }
    return true;
  }

  Status take_report_head(const std::string& bytes) {
    if (bytes.empty()) return {};
    const auto note = record::parse_note(bytes);
    if (!note) return std::unexpected(note.error());
    const auto checkpoint = record::open_checkpoint(*note, desk_.office.roster().log);
    if (!checkpoint) return std::unexpected(checkpoint.error());
    heads_.try_emplace(checkpoint->size, bytes);  // A countersigned one has more lines.
    return {};
  }

  // What ERASE entries name. Samples that the truck dropped for want of room lie outside jobs and
  // are bare headers like all else that need not be shown.
  std::set<uint64_t> erased_leaves() const {
    std::set<uint64_t> out;
    for (const auto& [leaf, entry] : entries_) {
      v1::EraseBody body;
      if (entry.header().kind != Kind::kErase || !body.ParseFromString(entry.body)) continue;
      out.insert(body.leaf().begin(), body.leaf().end());
    }
    return out;
  }

  Status write_entries(uint64_t size, record::Bundle& bundle) {
    std::set<uint64_t> seen_sizes;
    for (const auto& [head_size, note] : heads_) {
      if (head_size > 0 && head_size < size) seen_sizes.insert(head_size);
    }
    const std::set<uint64_t> erased = erased_leaves();
    for (const auto& [leaf, entry] : entries_) {
      const auto header = entry.header();
      if (header.seen_size > 0 && header.seen_size < size && is_in_tree(header))
        seen_sizes.insert(header.seen_size);
      record::BundleEntry out;
      out.leaf = leaf;
      out.recv_us = entry.recv_us;
      out.entry = entry.entry;
      auto path = ledger_.inclusion(leaf, size);
      if (!path) return std::unexpected(path.error());
      out.path = std::move(*path);
      if (erased.contains(leaf) ||
          (entry.body_state == BodyState::kErased && record::must_show_body(header, span_))) {
        out.form = record::BodyForm::kErased;
      } else if (entry.body_state == BodyState::kHere && shows_body(entry, header)) {
        out.form = record::BodyForm::kBody;
        out.salt = entry.salt;
        out.body = entry.body;
      }
      bundle.entries.push_back(std::move(out));
    }
    for (const uint64_t seen : seen_sizes) {
      auto proof = ledger_.consistency(seen, size);
      if (!proof) return std::unexpected(proof.error());
      bundle.consistency.push_back({seen, std::move(*proof)});
    }
    return {};
  }

  Status write_files(const BundleOptions& options, record::Bundle& bundle) {
    if (!options.report_json.empty()) files_[sha256(options.report_json)] = options.report_json;
    for (const v1::Pin& pin : job_.pins) {
      const auto sha = array_of<32>(pin.sha256(), "pin");
      if (!sha) return std::unexpected(sha.error());
      auto bytes = ledger_.file(*sha);
      if (!bytes) return fail_at("file " + pin.name() + ": ", bytes.error());
      files_[*sha] = std::move(*bytes);
    }
    for (const auto& [sha, bytes] : files_) bundle.files.push_back({sha, bytes});
    return {};
  }

  Status write_attachments(record::Bundle& bundle) {
    for (const v1::Observation& line : job_.lines) {
      for (const std::string& hex :
           {line.photo().sha256(), line.film().sha256(), line.statement().sha256(),
            line.anchor().sha256(), line.custody().sha256()}) {
        if (hex.empty()) continue;
        const auto sha = array_of_hex<32>(hex, "sha256");
        if (!sha || !ledger_.has_attachment(*sha)) continue;
        auto bytes = ledger_.attachment(*sha);
        if (!bytes) return std::unexpected(bytes.error());
        attachments_[*sha] = std::move(*bytes);
      }
    }
    for (const auto& [sha, bytes] : attachments_) bundle.attachments.push_back({sha, bytes});
    return {};
  }

  Desk& desk_;
  ledger::Ledger& ledger_;
  const watch::JobRecord& job_;
  record::JobSpan span_;
  std::set<record::Id16> devices_;
  std::map<uint64_t, StoredEntry> entries_;
  std::map<uint64_t, std::string> heads_;  // Notes by size.
  std::set<uint64_t> lost_said_;           // Leaves of GAP.
  std::set<uint64_t> seen_cosigned_;       // Leaves of HEAD_COSIGNED the device had seen.
  std::map<Hash, std::string> files_, attachments_;
};

}  // namespace

Result<std::string> export_bundle(Desk& desk, const record::Id16& job,
                                  const BundleOptions& options) {
  const auto record = watch::read_job(desk.ledger(), job);
  if (!record) return std::unexpected(record.error());
  return Maker(desk, *record).make(options);
}

}  // namespace fairlead::desk
