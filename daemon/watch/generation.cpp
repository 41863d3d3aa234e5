#include "daemon/watch/generation.h"

#include <fmt/format.h>

#include "daemon/base/key_file.h"
#include "daemon/ledger/head_file.h"
#include "daemon/ledger/sqlite/open.h"
#include "daemon/record/checkpoint.h"
#include "daemon/record/generation.h"
#include "daemon/watch/head_watch.h"
#include "daemon/watch/stamp.h"

namespace fairlead::watch {
namespace {

namespace fs = std::filesystem;
constexpr size_t kLongestRoster = 64 * 1024;

Result<SecretKey> existing_key(const fs::path& file, const char* what) {
  std::error_code error;
  if (!fs::exists(file, error)) {
    return fail(Code::kNotFound, fmt::format("{}: is not here; bring the {} key back for this",
                                             file.string(), what));
  }
  return load_or_make_key(file);
}

Status move_file(const fs::path& from, const fs::path& to) {
  std::error_code error;
  if (!fs::exists(from, error)) return {};
  fs::rename(from, to, error);
  if (error) return fail(Code::kIo, from.string() + ": cannot be renamed: " + error.message());
  return {};
}

class Declaration {
 public:
  Declaration(fs::path data, std::string cause)
      : data_(std::move(data)), keys_(data_ / "keys"), cause_(std::move(cause)) {}

  Result<NewGeneration> run(const std::string& last_head) {
    auto lock = FolderLock::take(data_);
    if (!lock) return std::unexpected(lock.error());
    if (auto ok = read_old(); !ok) return std::unexpected(ok.error());
    if (auto ok = make_roster(); !ok) return std::unexpected(ok.error());
    if (auto ok = find_last_head(last_head); !ok) return std::unexpected(ok.error());
    if (auto ok = move_file(data_ / "head.note", old_head_file()); !ok)
      return std::unexpected(ok.error());
    if (auto ok = write_restore(); !ok) return std::unexpected(ok.error());
    if (auto ok = swap_files(); !ok) return std::unexpected(ok.error());
    return out_;
  }

 private:
  fs::path old_head_file() const { return data_ / fmt::format("head.g{}.note", number_); }
  fs::path new_key_file() const { return keys_ / fmt::format("log.g{}.key", number_ + 1); }

  Status read_old() {
    auto note = read_small_file(data_ / "roster.note", kLongestRoster);
    if (!note) return std::unexpected(note.error());
    auto roster = record::open_roster(*note);
    if (!roster) return fail_at("roster.note: ", roster.error());
    old_ = std::move(*roster);
    auto number = record::generation_of(old_.log.name);
    if (!number) return std::unexpected(number.error());
    number_ = *number;
    // Cut short after the roster was written: its log key lies beside.
    const auto waiting = keys_ / fmt::format("log.g{}.key", number_);
    std::error_code error;
    if (fs::exists(waiting, error)) {
      auto key = load_or_make_key(waiting);
      if (!key) return std::unexpected(key.error());
      if (key->public_key() == old_.log.key) {
        return fail(
            Code::kConflict,
            fmt::format("generation {} was declared already, but cut short; rename {} to {} "
                        "and start the base",
                        number_, waiting.string(), (keys_ / "log.key").string()));
      }
    }
    return {};
  }

  Status make_roster() {
    auto root = existing_key(keys_ / "root.key", "root");
    auto admin = existing_key(keys_ / "admin.key", "admin");
    if (!root) return std::unexpected(root.error());
    if (!admin) return std::unexpected(admin.error());
    for (const record::RosterKey& named : old_.admins) {
      if (named.key.key == admin->public_key()) admin_id_ = named.device_id;
    }
    if (is_zero(admin_id_))
      return fail(Code::kConflict, "keys/admin.key: is not an admin key of the roster");
    admin_ = std::make_shared<const SecretKey>(std::move(*admin));
    auto log = load_or_make_key(new_key_file());
    if (!log) return std::unexpected(log.error());
    log_ = std::make_shared<const SecretKey>(std::move(*log));
    const auto origin = record::origin_of(old_.base_name, number_ + 1);
    if (!origin) return std::unexpected(origin.error());
    const auto key =
        record::make_verifier_key(*origin, record::NoteKeyType::kEd25519, log_->public_key());
    if (!key) return std::unexpected(key.error());
    new_ = old_;
    new_.log = *key;
    auto note = record::sign_roster(new_, *root);
    if (!note) return fail_at("keys/root.key: ", note.error());
    note_ = std::move(*note);
    out_.origin = *origin;
    out_.log_key = record::format_verifier_key(*key);
    out_.roster_fingerprint = hex_of(record::roster_fingerprint(note_));
    return {};
  }

  // Of the heads that this base signed, the largest anybody has named.
  Status consider(const std::string& bytes, const std::string& whose) {
    const auto note = record::parse_note(bytes);
    const auto head = note ? record::open_checkpoint(*note, old_.log)
                           : Result<record::Checkpoint>(std::unexpected(note.error()));
    if (!head)
      return fail(Code::kBadInput, whose + ": is no head of this base: " + head.error().message);
    if (head->size <= out_.last_size) return {};
    out_.last_size = head->size;
    last_head_ = bytes;
    return {};
  }

  Status find_last_head(const std::string& last_head) {
    for (const auto& file : {data_ / "head.note", old_head_file()}) {
      auto head = ledger::load_head(file, old_.log);
      if (!head) return std::unexpected(head.error());
      if (!head->has_value()) continue;
      own_head_ = (*head)->size;
      if (auto ok = consider((*head)->note, file.string()); !ok) return ok;
    }
    const auto larger = load_larger_head(data_);
    if (!larger) return std::unexpected(larger.error());
    if (larger->has_value()) {
      own_head_ = (*larger)->kept_size;
      if (auto ok = consider((*larger)->note, "larger_head.note"); !ok) return ok;
    }
    return last_head.empty() ? Status{} : consider(last_head, "the last head");
  }

  Status write_restore() {
    ledger::Options options;
    options.folder = data_ / "ledger";
    options.signer = ledger::LogSigner{new_.log, log_};
    options.head_file = data_ / "head.note";
    options.sign_at_once = false;
    auto ledger = ledger::open_sqlite(options);
    if (!ledger) return std::unexpected(ledger.error());
    const auto known = (*ledger)->entries_of_kind(record::Kind::kRestore, 0, 100'000);
    if (!known) return std::unexpected(known.error());
    for (const ledger::StoredEntry& entry : *known) {
      v1::RestoreBody body;
      if (!body.ParseFromString(entry.body) || body.roster() != note_) continue;
      out_.leaf = entry.leaf;  // Written before this was cut short.
      out_.kept_size = body.kept_size();
      return {};
    }
    return append_restore(**ledger);
  }

  Result<v1::RestoreBody> restore_body(ledger::Ledger& ledger) {
    out_.kept_size = std::min(own_head_, ledger.size());
    const auto root = ledger.root_at(out_.kept_size);
    if (!root) return std::unexpected(root.error());
    v1::RestoreBody body;
    body.set_last_head(last_head_);
    body.set_kept_size(out_.kept_size);
    body.set_kept_root(string_of(*root));
    body.set_cause(cause_);
    body.set_old_origin(old_.log.name);
    body.set_roster(note_);
    const std::string text = record::seam_text(body, new_.log.name);
    body.set_new_signature(string_of(log_->sign(text).bytes));
    std::error_code error;
    if (fs::exists(keys_ / "log.key", error)) {
      const auto old_key = load_or_make_key(keys_ / "log.key");
      if (!old_key) return std::unexpected(old_key.error());
      if (old_key->public_key() == old_.log.key)
        body.set_old_signature(string_of(old_key->sign(text).bytes));
    }
    return body;
  }

  Status append_restore(ledger::Ledger& ledger) {
    const Hash genesis = record::genesis_of(sha256(note_));
    for (const auto* keys : {&new_.admins, &new_.services}) {
      for (const record::RosterKey& own : *keys) {
        if (auto ok = ledger.start_chain({own.device_id, number_ + 1, own.key.key, genesis}); !ok)
          return ok;
      }
    }
    const auto body = restore_body(ledger);
    if (!body) return std::unexpected(body.error());
    ledger::OwnEntry own;
    own.header.kind = record::Kind::kRestore;
    own.header.device_id = admin_id_;
    stamp(own.header);
    own.body = body->SerializeAsString();
    own.key = admin_;
    std::vector<ledger::OwnEntry> batch;
    batch.push_back(std::move(own));
    const auto results = ledger.append_own(std::move(batch)).get();
    if (!results) return std::unexpected(results.error());
    if (results->front().outcome == ledger::Outcome::kRefused)
      return fail(Code::kConflict, "the ledger refused the RESTORE: " + results->front().words);
    out_.leaf = results->front().leaf;
    return {};
  }

  Status swap_files() {
    if (auto ok = write_private_file(data_ / "roster.note", note_); !ok) return ok;
    if (auto ok = move_file(keys_ / "log.key", keys_ / fmt::format("log.g{}.old.key", number_));
        !ok)
      return ok;
    if (auto ok = move_file(new_key_file(), keys_ / "log.key"); !ok) return ok;
    std::error_code ignored;
    fs::remove(data_ / "larger_head.note", ignored);
    return {};
  }

  fs::path data_, keys_;
  std::string cause_;
  record::Roster old_, new_;
  uint32_t number_ = 0;
  record::Id16 admin_id_{};
  uint64_t own_head_ = 0;
  std::string note_, last_head_;
  std::shared_ptr<const SecretKey> admin_, log_;
  NewGeneration out_;
};

}  // namespace

Result<NewGeneration> declare_generation(const fs::path& data, const std::string& cause,
                                         const std::string& last_head) {
  if (cause.empty()) return fail(Code::kBadInput, "cause: say in a few words why");
  std::error_code error;
  if (!fs::exists(data / "roster.note", error)) {
    return fail(Code::kNotFound,
                data.string() + ": is no data folder of a base; name it in --config");
  }
  return Declaration(data, cause).run(last_head);
}

}  // namespace fairlead::watch
