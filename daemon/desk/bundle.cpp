#include "daemon/desk/bundle.h"

#include <algorithm>
#include <map>
#include <set>

#include "daemon/record/bundle.h"
#include "daemon/record/job_span.h"

namespace fairlead::desk {
namespace {

using ledger::BodyState;
using ledger::StoredEntry;
using record::Kind;

/// Gathers entries by leaf, then writes them in the form the verifier reads.
class Maker {
 public:
  Maker(Desk& desk, const watch::JobRecord& job) : desk_(desk), ledger_(desk.ledger()), job_(job) {}

  Result<std::string> make(const BundleOptions& options) {
    const auto entries = ledger_.job_entries(job_.row.job_id);
    if (!entries) return std::unexpected(entries.error());
    for (const StoredEntry& entry : *entries) add(entry);
    find_span();
    for (auto step : {&Maker::add_chains, &Maker::add_admin_chain}) {
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
    for (const record::RosterKey& admin : desk_.office.roster().admins) {
      const auto mark = ledger_.watermark(admin.device_id);
      if (!mark) return std::unexpected(mark.error());
      if (auto ok = add_range(admin.device_id, mark->epoch, 1, mark->seq); !ok) return ok;
    }
    return {};
  }

  Status add_range(const record::Id16& device, uint32_t epoch, uint64_t first, uint64_t last) {
    constexpr size_t kPage = 256;
    while (first <= last) {
      const auto page = ledger_.device_entries(device, epoch, first,
                                               std::min<uint64_t>(kPage, last - first + 1), true);
      if (!page) return std::unexpected(page.error());
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
      case Kind::kInForce:
        return header.device_id == span_.device_id;
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
    bundle.heads = {head.note};
    bundle.roster = desk_.office.roster_note();
    if (auto ok = write_entries(head.size, bundle); !ok) return std::unexpected(ok.error());
    if (auto ok = write_files(options, bundle); !ok) return std::unexpected(ok.error());
    if (auto ok = write_attachments(bundle); !ok) return std::unexpected(ok.error());
    return record::write_bundle(bundle, desk_.office.origin(), desk_.office.roster().log,
                                *desk_.office.log_key());
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
    const std::set<uint64_t> erased = erased_leaves();
    for (const auto& [leaf, entry] : entries_) {
      const auto header = entry.header();
      if (header.seen_size > 0 && header.seen_size < size) seen_sizes.insert(header.seen_size);
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
