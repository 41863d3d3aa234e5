// The ledger: every entry of a base, append-only, with its Merkle tree; on a truck the same without
// the tree. What is acknowledged has survived a power cut: a callback comes only after a durable
// commit, and after any failed write or sync nothing is acknowledged any more.
//
// One thread inside owns all writing and commits in groups: leaves, bodies, watermarks and the
// tree's edge in one transaction. Callbacks run on that thread: they must be short and must not
// wait for the ledger. Everything else may be called from any thread; reads see whole transactions.
#pragma once

#include <cstdint>
#include <functional>
#include <future>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/base/result.h"
#include "daemon/ledger/attachments.h"
#include "daemon/ledger/holds.h"
#include "daemon/ledger/types.h"

namespace fairlead::ledger {

class Ledger {
 public:
  /// Waits for queued appends to commit, signs a last head, closes.
  virtual ~Ledger() = default;

  // Chains. ENROL, RESTORE and ROTATE entries open and re-key chains by themselves, in the
  // transaction that stores them; start_chain is for keys that no entry introduces (a base's own,
  // a truck's own).

  /// Idempotent. Errors: kConflict when that device and epoch began otherwise.
  [[nodiscard]] virtual Status start_chain(const ChainStart& start) = 0;
  /// A truck's own chain goes on under another key, once its base has the ROTATE entry. Durable.
  [[nodiscard]] virtual Status change_key(const Id16& device_id, const PublicKey& key) = 0;
  /// Latest epoch of the device. Errors: kNotFound.
  [[nodiscard]] virtual Result<Watermark> watermark(const Id16& device_id) const = 0;
  [[nodiscard]] virtual Result<std::vector<Watermark>> watermarks() const = 0;
  /// Strips of the latest epoch whose body has not come, ascending, at most `most`.
  [[nodiscard]] virtual Result<std::vector<uint64_t>> bodies_missing(const Id16& device_id,
                                                                     size_t most) const = 0;
  /// The same of any one epoch.
  [[nodiscard]] virtual Result<std::vector<uint64_t>> bodies_missing_in(const Id16& device_id,
                                                                        uint32_t epoch,
                                                                        size_t most) const = 0;

  // Appending. One result an entry, in order; a refused entry leaves the others untouched. The
  // outer error (kIo, kUnavailable, kInternal) means nothing of the batch is known to be stored.

  using Appended = std::function<void(Result<std::vector<AppendResult>>)>;
  /// Checks form, signature, commitment, seq = watermark + 1 and prev = chain; the same bytes once
  /// more are a duplicate, acknowledged again. `urgent` skips the linger.
  virtual void append(std::vector<SentEntry> batch, Appended done, bool urgent = false) = 0;
  /// Numbers, chains, commits to and signs each entry.
  virtual void append_own(std::vector<OwnEntry> batch, Appended done, bool urgent = false) = 0;
  /// The body of an entry stored with kFollows. Again: duplicate. `epoch` 0 = the newest.
  virtual void append_body(const Id16& device_id, uint32_t epoch, uint64_t seq, const Salt& salt,
                           std::string body, Appended done) = 0;
  [[nodiscard]] std::future<Result<std::vector<AppendResult>>> append(std::vector<SentEntry> batch);
  [[nodiscard]] std::future<Result<std::vector<AppendResult>>> append_own(
      std::vector<OwnEntry> batch);

  // Deleting. Headers, leaves and proofs stay.

  /// Deletes bodies and salts and appends the ERASE entry in one transaction, in which holds are
  /// looked at; then unlinks attachments that nobody else names and wipes the database's log. Not
  /// from a callback.
  [[nodiscard]] Result<EraseResult> erase(EraseOrder order);
  /// The same without waiting: its place among what is appended is that of this call.
  using Erased = std::function<void(Result<EraseResult>)>;
  virtual void erase(EraseOrder order, Erased done) = 0;
  /// A truck short of room: deletes the oldest samples outside jobs, about `bytes` of them, after
  /// the DROP entry `own` (its body is made here) is durable. Nothing left to drop: zero bodies.
  [[nodiscard]] virtual Result<Dropped> drop_oldest_strips(uint64_t bytes, OwnEntry own) = 0;
  /// A truck's copies of what its base keeps: deletes at most `most` bodies of observations and
  /// strips of the newest epoch up to `upto_seq`, but for those of a job that is open and those
  /// that name an attachment. Says nothing in the record. Gives how many went.
  [[nodiscard]] virtual Result<uint64_t> free_bodies(const Id16& device_id, uint64_t upto_seq,
                                                     size_t most) = 0;
  /// Leaves whose body, still here, names this attachment.
  [[nodiscard]] virtual Result<std::vector<uint64_t>> leaves_naming(const Hash& sha256) const = 0;
  /// Evidence holds in force.
  [[nodiscard]] virtual Result<Holds> holds() const = 0;

  // Room.

  /// Refuses attachments, or entries too (kUnavailable, `words`); what must be said while the disk
  /// is full (DISK_FULL, ALARM, ERASE, holds, STOP) is still taken.
  virtual void set_room(Room room, std::string words) = 0;
  /// Bytes free inside the database's own file.
  [[nodiscard]] virtual Result<uint64_t> reusable_bytes() const = 0;

  /// A truck's own chain is durable at the base up to `seq`. Durable with the next commit; losing
  /// it costs a resend only.
  virtual void set_acked(const Id16& device_id, uint64_t seq) = 0;

  /// Empty while all is well; else why nothing is acknowledged any more. The process should end.
  [[nodiscard]] virtual std::string failure() const = 0;

  // Reading.

  [[nodiscard]] virtual uint64_t size() const = 0;  // Leaves durably stored.
  [[nodiscard]] virtual Result<std::vector<StoredEntry>> entries(uint64_t from_leaf, size_t most,
                                                                 bool bodies) const = 0;
  /// kNotFound beyond the end.
  [[nodiscard]] virtual Result<StoredEntry> entry(uint64_t leaf) const = 0;
  [[nodiscard]] virtual Result<std::vector<StoredEntry>> device_entries(
      const Id16& device_id, uint32_t epoch, uint64_t from_seq, size_t most, bool bodies) const = 0;
  /// Entries of one kind; kinds OBSERVATIONS and STRIP are read by job or device instead
  /// (kBadInput).
  [[nodiscard]] virtual Result<std::vector<StoredEntry>> entries_of_kind(Kind kind,
                                                                         uint64_t from_leaf,
                                                                         size_t most) const = 0;
  /// Everything a job is judged by, in leaf order: the entries under its id, and of its opener's
  /// chain what lies between its opening and its closing (or now) without any job: strips, gaps,
  /// clocks, lines about sources.
  [[nodiscard]] virtual Result<std::vector<StoredEntry>> job_entries(const Id16& job_id) const = 0;
  /// Jobs by opening leaf.
  [[nodiscard]] virtual Result<std::vector<JobRow>> jobs(uint64_t from_leaf, size_t most) const = 0;
  [[nodiscard]] virtual Result<JobRow> job(const Id16& job_id) const = 0;
  /// Jobs of this device that are open now.
  [[nodiscard]] virtual Result<std::vector<JobRow>> open_jobs(const Id16& device_id) const = 0;

  // The tree (base only; a truck's ledger answers kBadInput).

  [[nodiscard]] virtual Result<Hash> root_at(uint64_t size) const = 0;
  [[nodiscard]] virtual Result<std::vector<Hash>> inclusion(uint64_t leaf, uint64_t size) const = 0;
  [[nodiscard]] virtual Result<std::vector<Hash>> consistency(uint64_t from, uint64_t to) const = 0;
  /// Newest published head, on disk in the head file before anyone sees it. At most 1 s behind.
  [[nodiscard]] virtual std::optional<SignedHead> head() const = 0;
  /// Signs now if the tree has grown. Errors: kUnavailable while signing is not allowed.
  [[nodiscard]] virtual Result<SignedHead> sign_head() = 0;
  /// A base that may have been restored signs nothing before somebody showed it a head that is not
  /// above its own (Options::sign_at_once = false); this lifts the ban.
  virtual void allow_signing() = 0;
  /// This ledger is an older copy of itself: from here on nothing is taken in and nothing signed
  /// (kUnavailable with these words); reading goes on.
  virtual void freeze(const std::string& words) = 0;

  // Watching. Callbacks stay for the ledger's life; register them before the first append.

  /// [first, last] leaves just committed.
  virtual void on_committed(std::function<void(uint64_t first, uint64_t last)> callback) = 0;
  virtual void on_head(std::function<void(const SignedHead&)> callback) = 0;

  // Attachments, kept by content beside the database; photos and films.

  /// Durable when it returns. The same content again is not stored twice.
  [[nodiscard]] virtual Result<Hash> put_attachment(std::string_view bytes) = 0;
  [[nodiscard]] virtual Result<AttachmentWriter> begin_attachment() = 0;
  /// Errors: kNotFound; kCorrupt when the bytes are not those of the hash.
  [[nodiscard]] virtual Result<std::string> attachment(const Hash& sha256) const = 0;
  [[nodiscard]] virtual bool has_attachment(const Hash& sha256) const = 0;

  // Files of the register and procedures by the SHA-256 of their bytes. A REGISTER entry puts its
  // file here by itself.

  [[nodiscard]] virtual Status put_file(std::string_view bytes) = 0;
  [[nodiscard]] virtual Result<std::string> file(const Hash& sha256) const = 0;

  // A truck's keepsakes: orders from the base and small named values (enrolment, seen head).

  [[nodiscard]] virtual Status put_order(const HeldOrder& order) = 0;
  [[nodiscard]] virtual Result<std::vector<HeldOrder>> orders(uint64_t from_leaf) const = 0;
  [[nodiscard]] virtual Status put_value(std::string_view name, std::string_view bytes) = 0;
  /// Errors: kNotFound.
  [[nodiscard]] virtual Result<std::string> value(std::string_view name) const = 0;

  /// Reads everything again: every leaf hash, chain, signature, tree node, body commitment, head,
  /// attachment and file, and the database's own pages, in pieces, so that writing goes on. Errors
  /// only when it cannot read at all or is told to stop.
  [[nodiscard]] virtual Result<AuditReport> audit(const AuditOptions& options) const = 0;
  [[nodiscard]] Result<AuditReport> audit() const { return audit(AuditOptions{}); }
};

}  // namespace fairlead::ledger
