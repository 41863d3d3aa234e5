#include "daemon/ledger/sqlite/sqlite_ledger.h"

#include <fmt/format.h>

#include <algorithm>

#include "daemon/ledger/head_file.h"
#include "daemon/ledger/sqlite/audit.h"
#include "daemon/record/merkle.h"

namespace fairlead::ledger {
namespace {

// What must be said although the disk is nearly full.
bool is_said_when_full(const OwnEntry& own) {
  switch (own.header.kind) {
    case Kind::kDiskFull:
    case Kind::kAlarm:
    case Kind::kErase:
    case Kind::kHold:
    case Kind::kHoldEnd:
    case Kind::kFork:
    case Kind::kRestore:
    case Kind::kRevoke:
    case Kind::kStop:
      return true;
    default:
      return false;
  }
}

}  // namespace

SqliteLedger::SqliteLedger(FolderLock lock, const Options& options, Store store,
                           std::optional<SignedHead> head)
    : lock_(std::move(lock)),
      options_(options),
      attachments_(options.folder / "attachments",
                   [this](const Error& error) { writer_.fail_for_good(error); }),
      readers_(options.folder / "ledger.db"),
      writer_(std::move(store), options, std::move(head)) {
  writer_.start();
}

// Readers go first, so that the writer, closing last, copies the whole log into the database.
SqliteLedger::~SqliteLedger() { readers_.clear(); }

Status SqliteLedger::write_and_wait(std::function<Status(Store&)> run) {
  auto promise = std::make_shared<std::promise<Status>>();
  auto done = promise->get_future();
  // What the caller got wrong must not undo the others of the group: it is kept apart.
  auto own = std::make_shared<Status>();
  Work work;
  work.entries = 1;
  work.urgent = true;
  work.run = [own, run = std::move(run)](Store& store, int64_t) -> Status {
    *own = run(store);
    const bool callers_fault = !*own && own->error().code == Code::kConflict;
    return callers_fault ? Status{} : *own;
  };
  work.answer = [own, promise](const Status& committed) {
    promise->set_value(committed ? *own : committed);
  };
  writer_.post(std::move(work));
  return done.get();
}

Status SqliteLedger::do_and_wait(Work work) {
  auto promise = std::make_shared<std::promise<Status>>();
  auto done = promise->get_future();
  work.urgent = true;
  work.answer = [promise](const Status& committed) { promise->set_value(committed); };
  writer_.post(std::move(work));
  return done.get();
}

void SqliteLedger::erase(EraseOrder order, Erased done) {
  auto result = std::make_shared<EraseResult>();
  Work work;
  work.entries = order.leaves.size();
  work.wipe = !order.dry_run;
  work.urgent = true;
  work.run = [result, order = std::move(order)](Store& store, int64_t now_us) -> Status {
    auto erased = store.erase(order, now_us);
    if (!erased) return std::unexpected(erased.error());
    *result = std::move(*erased);
    return {};
  };
  auto trouble = std::make_shared<Status>();
  work.after_commit = [this, result, trouble] {
    if (!result->entry) return;
    for (const Hash& hash : result->attachments) {
      if (auto gone = attachments_.remove(hash); !gone) *trouble = std::move(gone);
    }
  };
  work.answer = [this, result, trouble, done = std::move(done)](const Status& committed) {
    if (!committed) return done(std::unexpected(committed.error()));
    // The entry stands; the file that would not go is tried again at the next start.
    if (!*trouble) return done(std::unexpected(trouble->error()));
    result->wiped = writer_.wiped();
    done(std::move(*result));
  };
  writer_.post(std::move(work));
}

Result<Dropped> SqliteLedger::drop_oldest_strips(uint64_t bytes, OwnEntry own) {
  auto dropped = std::make_shared<Dropped>();
  auto leaves = std::make_shared<std::vector<uint64_t>>();
  Work say;
  say.entries = 1;
  say.run = [=, own = std::move(own)](Store& store, int64_t now_us) -> Status {
    auto announced = store.announce_drop(bytes, own, *dropped, now_us);
    if (!announced) return std::unexpected(announced.error());
    *leaves = std::move(*announced);
    return {};
  };
  if (const auto done = do_and_wait(std::move(say)); !done) return std::unexpected(done.error());
  if (leaves->empty()) return Dropped{};
  Work drop;
  drop.run = [leaves](Store& store, int64_t) { return store.drop_bodies(*leaves); };
  if (const auto done = do_and_wait(std::move(drop)); !done) return std::unexpected(done.error());
  return *dropped;
}

Result<uint64_t> SqliteLedger::free_bodies(const Id16& device_id, uint64_t upto_seq, size_t most) {
  auto freed = std::make_shared<uint64_t>(0);
  Work work;
  work.run = [=](Store& store, int64_t) -> Status {
    const auto leaves = store.bodies_to_free(device_id, upto_seq, most);
    if (!leaves) return std::unexpected(leaves.error());
    *freed = leaves->size();
    return store.drop_bodies(*leaves);
  };
  if (const auto done = do_and_wait(std::move(work)); !done) return std::unexpected(done.error());
  return *freed;
}

Result<std::vector<uint64_t>> SqliteLedger::leaves_naming(const Hash& sha256) const {
  return readers_.with([&](Reader& r) { return r.leaves_naming(sha256); });
}

Result<Holds> SqliteLedger::holds() const {
  return readers_.with([](Reader& r) { return r.holds(); });
}

void SqliteLedger::set_room(Room room, std::string words) {
  const std::scoped_lock lock(room_mutex_);
  room_ = room;
  room_words_ = std::move(words);
}

std::optional<Error> SqliteLedger::no_room(Room needed) const {
  const std::scoped_lock lock(room_mutex_);
  const bool refused = needed == Room::kAll ? room_ != Room::kAll : room_ == Room::kNothing;
  if (!refused) return std::nullopt;
  return Error{Code::kUnavailable, room_words_};
}

Result<uint64_t> SqliteLedger::reusable_bytes() const {
  return readers_.with([](Reader& r) { return r.reusable_bytes(); });
}

Result<Hash> SqliteLedger::put_attachment(std::string_view bytes) {
  if (auto full = no_room(Room::kAll)) return std::unexpected(std::move(*full));
  return attachments_.put(bytes);
}

Result<AttachmentWriter> SqliteLedger::begin_attachment() {
  if (auto full = no_room(Room::kAll)) return std::unexpected(std::move(*full));
  return attachments_.begin();
}

Status SqliteLedger::start_chain(const ChainStart& start) {
  return write_and_wait([start](Store& store) { return store.start_chain(start); });
}

Status SqliteLedger::change_key(const Id16& device_id, const PublicKey& key) {
  return write_and_wait([=](Store& store) { return store.change_key(device_id, key); });
}

Result<std::vector<Watermark>> SqliteLedger::watermarks() const {
  std::vector<Watermark> marks;
  for (const auto& chain : writer_.chains()) marks.push_back(chain.mark);
  return marks;
}

Result<Watermark> SqliteLedger::watermark(const Id16& device_id) const {
  for (const auto& chain : writer_.chains()) {
    if (chain.mark.device_id == device_id) return chain.mark;
  }
  return fail(Code::kNotFound,
              fmt::format("device {}: is not known here; enrol it", hex_of(device_id)));
}

Result<std::vector<uint64_t>> SqliteLedger::bodies_missing(const Id16& device_id,
                                                           size_t most) const {
  for (const auto& chain : writer_.chains()) {
    if (chain.mark.device_id != device_id) continue;
    std::vector<uint64_t> missing;
    for (const uint64_t seq : chain.waiting) {
      if (missing.size() == most) break;
      missing.push_back(seq);
    }
    return missing;
  }
  return fail(Code::kNotFound,
              fmt::format("device {}: is not known here; enrol it", hex_of(device_id)));
}

Result<std::vector<uint64_t>> SqliteLedger::bodies_missing_in(const Id16& device_id, uint32_t epoch,
                                                              size_t most) const {
  return readers_.with([&](Reader& r) { return r.waiting(device_id, epoch, most); });
}

template <typename Make>
void SqliteLedger::append_each(size_t count, Appended done, bool urgent, Make make) {
  auto results = std::make_shared<std::vector<AppendResult>>();
  Work work;
  work.entries = count;
  work.urgent = urgent;
  work.run = [results, make = std::move(make), count](Store& store, int64_t now_us) -> Status {
    for (size_t i = 0; i < count; ++i) {
      auto result = make(store, i, now_us);
      if (!result) return std::unexpected(result.error());
      results->push_back(std::move(*result));
    }
    return {};
  };
  work.answer = [results, done = std::move(done)](const Status& committed) {
    if (committed) {
      done(std::move(*results));
    } else {
      done(std::unexpected(committed.error()));
    }
  };
  writer_.post(std::move(work));
}

void SqliteLedger::append(std::vector<SentEntry> batch, Appended done, bool urgent) {
  if (auto full = no_room(Room::kNoAttachments)) return done(std::unexpected(std::move(*full)));
  const size_t count = batch.size();
  append_each(count, std::move(done), urgent,
              [batch = std::move(batch)](Store& store, size_t i, int64_t now_us) {
                return store.append(batch[i], now_us);
              });
}

void SqliteLedger::append_own(std::vector<OwnEntry> batch, Appended done, bool urgent) {
  if (!std::ranges::all_of(batch, is_said_when_full)) {
    if (auto full = no_room(Room::kNoAttachments)) return done(std::unexpected(std::move(*full)));
  }
  const size_t count = batch.size();
  append_each(count, std::move(done), urgent,
              [batch = std::move(batch)](Store& store, size_t i, int64_t now_us) {
                return store.append_own(batch[i], now_us);
              });
}

void SqliteLedger::append_body(const Id16& device_id, uint32_t epoch, uint64_t seq,
                               const Salt& salt, std::string body, Appended done) {
  if (auto full = no_room(Room::kNoAttachments)) return done(std::unexpected(std::move(*full)));
  append_each(1, std::move(done), false,
              [device_id, epoch, seq, salt, body = std::move(body)](Store& store, size_t, int64_t) {
                return store.append_body(device_id, epoch, seq, salt, body);
              });
}

void SqliteLedger::set_acked(const Id16& device_id, uint64_t seq) {
  Work work;
  work.run = [device_id, seq](Store& store, int64_t) -> Status {
    store.set_acked(device_id, seq);
    return {};
  };
  work.answer = [](const Status&) {};
  writer_.post_lazily(std::move(work));
}

Result<std::vector<StoredEntry>> SqliteLedger::entries(uint64_t from_leaf, size_t most,
                                                       bool bodies) const {
  return readers_.with([&](Reader& r) { return r.entries(from_leaf, most, bodies); });
}

Result<StoredEntry> SqliteLedger::entry(uint64_t leaf) const {
  auto found = entries(leaf, 1, true);
  if (!found) return std::unexpected(found.error());
  if (!found->empty() && found->front().leaf == leaf) return std::move(found->front());
  return fail(Code::kNotFound,
              fmt::format("leaf {}: is beyond the end; there are {}", leaf, size()));
}

Result<std::vector<StoredEntry>> SqliteLedger::device_entries(const Id16& device_id, uint32_t epoch,
                                                              uint64_t from_seq, size_t most,
                                                              bool bodies) const {
  return readers_.with(
      [&](Reader& r) { return r.device_entries(device_id, epoch, from_seq, most, bodies); });
}

Result<std::vector<StoredEntry>> SqliteLedger::entries_of_kind(Kind kind, uint64_t from_leaf,
                                                               size_t most) const {
  return readers_.with([&](Reader& r) { return r.entries_of_kind(kind, from_leaf, most); });
}

Result<std::vector<StoredEntry>> SqliteLedger::job_entries(const Id16& job_id) const {
  return readers_.with([&](Reader& r) { return r.job_entries(job_id); });
}

Result<std::vector<JobRow>> SqliteLedger::jobs(uint64_t from_leaf, size_t most) const {
  return readers_.with([&](Reader& r) { return r.jobs(from_leaf, most); });
}

Result<JobRow> SqliteLedger::job(const Id16& job_id) const {
  return readers_.with([&](Reader& r) { return r.job(job_id); });
}

Result<std::vector<JobRow>> SqliteLedger::open_jobs(const Id16& device_id) const {
  return readers_.with([&](Reader& r) { return r.open_jobs(device_id); });
}

Status SqliteLedger::check_tree_size(uint64_t wanted) const {
  if (!options_.signer)
    return fail(Code::kBadInput, "tree: a truck's ledger has none; ask the base");
  if (wanted <= size()) return {};
  return fail(Code::kNotFound,
              fmt::format("tree: has {} leaves, not {}; ask for fewer", size(), wanted));
}

Result<Hash> SqliteLedger::root_at(uint64_t size) const {
  if (const auto there = check_tree_size(size); !there) return std::unexpected(there.error());
  return readers_.with([&](Reader& r) { return record::root_at(size, r.nodes()); });
}

Result<std::vector<Hash>> SqliteLedger::inclusion(uint64_t leaf, uint64_t size) const {
  if (const auto there = check_tree_size(size); !there) return std::unexpected(there.error());
  return readers_.with([&](Reader& r) { return record::inclusion_proof(leaf, size, r.nodes()); });
}

Result<std::vector<Hash>> SqliteLedger::consistency(uint64_t from, uint64_t to) const {
  if (const auto there = check_tree_size(to); !there) return std::unexpected(there.error());
  return readers_.with([&](Reader& r) { return record::consistency_proof(from, to, r.nodes()); });
}

void SqliteLedger::on_committed(std::function<void(uint64_t, uint64_t)> callback) {
  writer_.watch_commits(std::move(callback));
}

void SqliteLedger::on_head(std::function<void(const SignedHead&)> callback) {
  writer_.watch_heads(std::move(callback));
}

Status SqliteLedger::put_file(std::string_view bytes) {
  return write_and_wait(
      [bytes = std::string(bytes)](Store& store) { return store.put_file(bytes); });
}

Result<std::string> SqliteLedger::file(const Hash& sha256) const {
  return readers_.with([&](Reader& r) { return r.file(sha256); });
}

Status SqliteLedger::put_order(const HeldOrder& order) {
  return write_and_wait([order](Store& store) { return store.put_order(order); });
}

Result<std::vector<HeldOrder>> SqliteLedger::orders(uint64_t from_leaf) const {
  return readers_.with([&](Reader& r) { return r.orders(from_leaf); });
}

Status SqliteLedger::put_value(std::string_view name, std::string_view bytes) {
  return write_and_wait([name = std::string(name), bytes = std::string(bytes)](Store& store) {
    return store.put_value(name, bytes);
  });
}

Result<std::string> SqliteLedger::value(std::string_view name) const {
  return readers_.with([&](Reader& r) { return r.value(name); });
}

Result<AuditReport> SqliteLedger::audit(const AuditOptions& options) const {
  AuditScope scope;
  scope.tree = options_.signer.has_value();
  if (scope.tree) {
    auto head = load_head(options_.head_file, options_.signer->log);
    if (!head) return std::unexpected(head.error());
    scope.head = std::move(*head);
  }
  return audit_files(options_.folder, scope, options);
}

}  // namespace fairlead::ledger
