// The half of Office that follows the rosters: which keys write, and how another roster comes.
#include <future>
#include <map>

#include "daemon/watch/office.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::watch {
namespace {

constexpr std::pair<const char*, const char*> kKeyFiles[] = {{"admin.key", "admin.key.next"},
                                                             {"service.key", "service.key.next"}};

struct Found {
  record::Id16 id{};
  std::shared_ptr<const SecretKey> key;
};

// The first key of `group` this base holds, in its old file or in the one that waits.
Result<Found> held_key(const std::filesystem::path& folder,
                       const std::pair<const char*, const char*>& files,
                       const std::vector<record::RosterKey>& group) {
  for (const char* name : {files.first, files.second}) {
    std::error_code error;
    if (!std::filesystem::exists(folder / name, error)) continue;
    auto key = load_or_make_key(folder / name);
    if (!key) return std::unexpected(key.error());
    for (const record::RosterKey& named : group) {
      if (named.key.key != key->public_key()) continue;
      return Found{named.device_id, std::make_shared<const SecretKey>(std::move(*key))};
    }
  }
  return fail(Code::kConflict, "the roster names no key that lies in " +
                                   (folder / files.first).string() + " or " + files.second +
                                   "; sign a roster that names this base's keys");
}

}  // namespace

Result<Office::Edition> Office::edition_of(const std::string& note) const {
  auto roster = record::open_roster(note);
  if (!roster) return std::unexpected(roster.error());
  if (roster->log.key != log_->public_key()) {
    return fail(Code::kConflict, "the roster names another log key than keys/log.key");
  }
  auto admin = held_key(data_ / "keys", kKeyFiles[0], roster->admins);
  if (!admin) return std::unexpected(admin.error());
  auto service = held_key(data_ / "keys", kKeyFiles[1], roster->services);
  if (!service) return std::unexpected(service.error());
  return Edition{note,        std::move(*roster),    admin->id,
                 service->id, std::move(admin->key), std::move(service->key),
                 false};
}

// A chain of the base's own begins with the roster that first names its key.
Status Office::start_chains(const Edition& edition) {
  const Hash genesis = record::genesis_of(record::roster_fingerprint(edition.note));
  for (const auto& [id, key] : {std::pair{&edition.admin_id, &edition.admin},
                                std::pair{&edition.service_id, &edition.service}}) {
    if (ledger_->watermark(*id)) continue;
    if (auto ok = ledger_->start_chain({*id, 1, (*key)->public_key(), genesis}); !ok) return ok;
  }
  return {};
}

Status Office::load_rosters() {
  constexpr size_t kMost = 1'000;
  std::map<uint64_t, std::string> notes;  // By leaf: ROSTER entries, and seams between generations.
  for (const auto kind : {record::Kind::kRoster, record::Kind::kRestore}) {
    const auto entries = ledger_->entries_of_kind(kind, 0, kMost);
    if (!entries) return std::unexpected(entries.error());
    for (const ledger::StoredEntry& entry : *entries) {
      v1::RosterBody body;
      v1::RestoreBody seam;
      if (kind == record::Kind::kRoster && body.ParseFromString(entry.body))
        notes[entry.leaf] = body.note();
      if (kind == record::Kind::kRestore && seam.ParseFromString(entry.body) &&
          seam.device_id().empty())
        notes[entry.leaf] = seam.roster();
    }
  }
  const std::string file_note = roster_note();
  std::deque<Edition> editions;
  bool known = false;
  for (const auto& [leaf, note] : notes) {
    auto roster = record::open_roster(note);
    if (!roster) return fail(Code::kCorrupt, "leaf " + std::to_string(leaf) + ": cannot be read");
    known = known || note == file_note;
    editions.push_back({note, std::move(*roster), {}, {}, nullptr, nullptr, false});
  }
  if (editions.empty()) return fail(Code::kCorrupt, "the ledger holds no roster");
  auto newest = edition_of(editions.back().note);
  if (!newest) return fail_at("the roster in force: ", newest.error());
  editions.back() = std::move(*newest);
  now_ = nullptr;
  editions_ = std::move(editions);
  now_ = &editions_.back();
  // A roster the ledger does not know was put there by the owner; an older one was left by a crash.
  if (!known) {
    const auto taken = take_roster(file_note);
    return taken ? Status{} : fail_at((data_ / "roster.note").string() + ": ", taken.error());
  }
  return promote(now());
}

// What is in force is also what the files say. The roster first: it finds its keys in either file.
Status Office::promote(const Edition& edition) const {
  if (auto ok = write_private_file(data_ / "roster.note", edition.note); !ok) return ok;
  const auto folder = data_ / "keys";
  for (const auto& [files, key] :
       {std::pair{&kKeyFiles[0], &edition.admin}, std::pair{&kKeyFiles[1], &edition.service}}) {
    std::error_code error;
    if (!std::filesystem::exists(folder / files->second, error)) continue;
    const auto next = load_or_make_key(folder / files->second);
    if (!next) return std::unexpected(next.error());
    if (next->public_key() != (*key)->public_key()) continue;
    std::filesystem::rename(folder / files->second, folder / files->first, error);
    if (error) return fail(Code::kIo, (folder / files->first).string() + ": " + error.message());
  }
  return {};
}

Status Office::check_roster(const std::string& note) const {
  const auto next = edition_of(note);
  if (!next) return std::unexpected(next.error());
  if (note == roster_note()) return fail(Code::kConflict, "roster: this one is in force already");
  if (auto ok = record::check_succession(roster(), next->roster); !ok) return ok;
  return record::check_not_given_up(rosters(), next->roster);
}

Result<uint64_t> Office::take_roster(const std::string& note) {
  const std::lock_guard one(taking_);
  if (auto ok = check_roster(note); !ok) return std::unexpected(ok.error());
  auto next = edition_of(note);
  if (!next) return std::unexpected(next.error());
  if (auto ok = start_chains(*next); !ok) return std::unexpected(ok.error());
  v1::RosterBody body;
  body.set_note(note);
  std::promise<Result<ledger::AppendResult>> done;
  const Edition* before = &now();
  {
    // Whatever is queued behind the ROSTER entry is written under its keys.
    const std::lock_guard lock(mutex_);
    editions_.push_back(std::move(*next));
    now_ = &editions_.back();
    queue(own_entry(now(), record::Kind::kRoster, {}, body),
          [&](Result<ledger::AppendResult> outcome) { done.set_value(std::move(outcome)); });
  }
  const auto written = done.get_future().get();
  if (!written) {
    const std::lock_guard lock(mutex_);
    now_ = before;
    editions_.back().failed = true;  // It stays in memory: somebody may be reading it.
    return std::unexpected(written.error());
  }
  if (auto ok = promote(now()); !ok) return std::unexpected(ok.error());
  if (auto ok = renew_orders(); !ok)
    return fail_at(
        "the roster is in force, but orders that wait are not written again yet; restart the "
        "base: ",
        ok.error());
  return written->leaf;
}

std::vector<const record::Roster*> Office::rosters() const {
  const std::lock_guard lock(mutex_);
  std::vector<const record::Roster*> out;
  for (const Edition& edition : editions_) {
    if (!edition.failed) out.push_back(&edition.roster);
  }
  return out;
}

std::string Office::first_roster_note() const {
  const std::lock_guard lock(mutex_);
  for (const Edition& edition : editions_) {
    if (edition.roster.log == now().roster.log) return edition.note;
  }
  return now().note;
}

Office::RosterNotes Office::roster_notes() const {
  const std::lock_guard lock(mutex_);
  RosterNotes out;
  for (const Edition& edition : editions_) {
    if (edition.failed) continue;
    if (&edition == &now()) out.in_force = edition.note;
    if (&edition != &now()) out.older.push_back(edition.note);
  }
  return out;
}

}  // namespace fairlead::watch
