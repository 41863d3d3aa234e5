#include "daemon/watch/office.h"

#include "daemon/ledger/sqlite/open.h"
#include "daemon/record/checkpoint.h"
#include "daemon/record/generation.h"
#include "daemon/watch/stamp.h"
#include "fairlead/v1/record.pb.h"

namespace fairlead::watch {
namespace {

constexpr size_t kLongestRoster = 64 * 1024;

Result<std::shared_ptr<const SecretKey>> shared_key(const std::filesystem::path& file) {
  auto key = load_or_make_key(file);
  if (!key) return std::unexpected(key.error());
  return std::make_shared<const SecretKey>(std::move(*key));
}

}  // namespace

Status Office::make_keys() {
  std::error_code error;
  const auto folder = data_ / "keys";
  std::filesystem::create_directories(folder, error);
  if (error) return fail(Code::kIo, folder.string() + ": cannot be made: " + error.message());
  std::filesystem::permissions(folder, std::filesystem::perms::owner_all, error);
  const bool first = !std::filesystem::exists(data_ / "roster.note", error);
  const auto take = [&](const char* name, std::shared_ptr<const SecretKey>* into) -> Status {
    const auto file = folder / name;
    if (!first && !std::filesystem::exists(file, error)) {
      return fail(Code::kNotFound, file.string() +
                                       ": is missing, but roster.note is there; put the key back, "
                                       "or let fairlead enrol base make keys for a new roster");
    }
    auto made = shared_key(file);
    if (!made) return std::unexpected(made.error());
    if (into != nullptr) *into = std::move(*made);
    return {};
  };
  if (auto ok = take("log.key", &log_); !ok) return ok;
  for (const char* name : {"admin.key", "service.key"}) {
    if (auto ok = take(name, nullptr); !ok) return ok;
  }
  if (!first) return {};
  if (auto ok = take("root.key", &root_); !ok) return ok;
  notice_ =
      (folder / "root.key").string() +
      ": made; it signs rosters and nothing else. Move it to a stick kept elsewhere: the base "
      "runs without it";
  return {};
}

Status Office::make_roster(const std::string& base_name) {
  const auto file = data_ / "roster.note";
  auto note = read_small_file(file, kLongestRoster);
  if (!note && note.error().code != Code::kNotFound) return std::unexpected(note.error());
  if (!note) {
    note = first_roster(base_name);
    if (!note) return std::unexpected(note.error());
    if (auto ok = write_private_file(file, *note); !ok) return ok;
    root_.reset();
  }
  auto edition = edition_of(*note);
  if (!edition) return fail_at(file.string() + ": ", edition.error());
  if (edition->roster.base_name != base_name) {
    return fail(Code::kConflict, file.string() + ": this folder belongs to the base '" +
                                     edition->roster.base_name +
                                     "'; set name to it, or give the new base a folder of its own");
  }
  editions_.push_back(std::move(*edition));
  now_ = &editions_.back();
  ledger_id_ = record::ledger_id_of(origin());
  return {};
}

Result<std::string> Office::first_roster(const std::string& base_name) const {
  const auto origin = record::origin_of(base_name, 1);
  if (!origin) return fail_at("name: ", origin.error());
  using Type = record::NoteKeyType;
  const auto admin_key = shared_key(data_ / "keys" / "admin.key");
  const auto service_key = shared_key(data_ / "keys" / "service.key");
  if (!admin_key) return std::unexpected(admin_key.error());
  if (!service_key) return std::unexpected(service_key.error());
  const auto key = [](const std::string& name, const SecretKey& secret) {
    return record::make_verifier_key(name, Type::kEd25519, secret.public_key());
  };
  const auto root = key(base_name + "/root", *root_), log = key(*origin, *log_),
             admin = key(base_name + "/admin", **admin_key),
             service = key(base_name + "/service", **service_key);
  for (const auto* made : {&root, &log, &admin, &service}) {
    if (!*made) return std::unexpected(made->error());
  }
  record::Roster roster;
  roster.base_name = base_name;
  roster.root = *root;
  roster.log = *log;
  roster.admins = {{random_array<16>(), *admin}};
  roster.services = {{random_array<16>(), *service}};
  return record::sign_roster(roster, *root_);
}

Status Office::open_ledger(const HeadWatchOptions& heads) {
  const auto generation = record::generation_of(origin());
  if (!generation) return std::unexpected(generation.error());
  ledger::Options options;
  options.folder = data_ / "ledger";
  options.signer = ledger::LogSigner{now().roster.log, log_};
  options.head_file = data_ / "head.note";
  options.ledger_id = ledger_id_;
  options.sign_at_once = false;
  for (uint32_t earlier = 1; earlier < *generation; ++earlier) {
    options.ancestors.push_back(
        record::ledger_id_of(*record::origin_of(roster().base_name, earlier)));
  }
  auto opened = ledger::open_sqlite(options);
  if (!opened) return std::unexpected(opened.error());
  ledger_ = std::move(*opened);
  if (ledger_->size() > 0) {
    if (auto ok = load_rosters(); !ok) return ok;
  } else {
    if (auto ok = start_chains(now()); !ok) return ok;
    v1::RosterBody body;
    body.set_note(roster_note());
    if (const auto written = write(record::Kind::kRoster, {}, body); !written)
      return std::unexpected(written.error());
  }
  auto watch = HeadWatch::open(*ledger_, roster().log, data_, heads);
  if (!watch) return std::unexpected(watch.error());
  heads_ = std::move(*watch);
  return heads_->frozen().empty() ? renew_orders() : Status{};
}

Result<std::unique_ptr<Office>> Office::open(const std::filesystem::path& data,
                                             const std::string& base_name,
                                             const HeadWatchOptions& options) {
  std::unique_ptr<Office> office(new Office());
  office->data_ = data;
  if (auto ok = office->make_keys(); !ok) return std::unexpected(ok.error());
  if (auto ok = office->make_roster(base_name); !ok) return std::unexpected(ok.error());
  if (auto ok = office->open_ledger(options); !ok) return std::unexpected(ok.error());
  return office;
}

ledger::OwnEntry Office::own_entry(const Edition& edition, record::Kind kind,
                                   const record::Id16& job,
                                   const google::protobuf::MessageLite& body) const {
  const bool service = record::is_service_kind(kind);
  ledger::OwnEntry own;
  own.header.kind = kind;
  own.header.device_id = service ? edition.service_id : edition.admin_id;
  own.header.job_id = job;
  stamp(own.header);
  own.body = body.SerializeAsString();
  own.key = service ? edition.service : edition.admin;
  return own;
}

Result<ledger::AppendResult> Office::write(record::Kind kind, const record::Id16& job,
                                           const google::protobuf::MessageLite& body) {
  auto done = std::make_shared<std::promise<Result<ledger::AppendResult>>>();
  auto result = done->get_future();
  write_later(kind, job, body, [done](Result<ledger::AppendResult> outcome) {
    done->set_value(std::move(outcome));
  });
  return result.get();
}

void Office::write_later(record::Kind kind, const record::Id16& job,
                         const google::protobuf::MessageLite& body,
                         std::function<void(Result<ledger::AppendResult>)> done) {
  const std::lock_guard lock(mutex_);
  queue(own_entry(now(), kind, job, body), std::move(done));
}

void Office::queue(ledger::OwnEntry own, std::function<void(Result<ledger::AppendResult>)> done) {
  std::vector<ledger::OwnEntry> batch;
  batch.push_back(std::move(own));
  ledger_->append_own(
      std::move(batch),
      [done = std::move(done)](Result<std::vector<ledger::AppendResult>> results) {
        if (!results) return done(std::unexpected(results.error()));
        if (results->front().outcome == ledger::Outcome::kRefused) {
          return done(fail(Code::kInternal,
                           "the ledger refused the base's own entry: " + results->front().words));
        }
        done(std::move(results->front()));
      },
      /*urgent=*/true);
}

Result<std::vector<ledger::EraseResult>> Office::erase(std::vector<uint64_t> leaves,
                                                       const std::string& policy,
                                                       const std::string& words, bool dry_run) {
  std::vector<ledger::EraseResult> out;
  while (!leaves.empty()) {
    ledger::EraseOrder order;
    order.leaves = leaves;
    order.policy = policy;
    order.words = words;
    order.dry_run = dry_run;
    std::promise<Result<ledger::EraseResult>> done;
    {
      // As with all that is written: queued before another roster, it stands before that too.
      const std::lock_guard lock(mutex_);
      order.own = own_entry(now(), record::Kind::kErase, {}, v1::EraseBody());
      ledger_->erase(std::move(order), [&](Result<ledger::EraseResult> result) {
        done.set_value(std::move(result));
      });
    }
    auto erased = done.get_future().get();
    if (!erased) return std::unexpected(erased.error());
    leaves.erase(leaves.begin(), leaves.begin() + static_cast<std::ptrdiff_t>(erased->taken));
    out.push_back(std::move(*erased));
  }
  return out;
}

}  // namespace fairlead::watch
