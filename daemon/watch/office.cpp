#include "daemon/watch/office.h"

#include "daemon/ledger/sqlite/open.h"
#include "daemon/record/checkpoint.h"
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
  std::filesystem::create_directories(data_ / "keys", error);
  if (error)
    return fail(Code::kIo, (data_ / "keys").string() + ": cannot be made: " + error.message());
  std::filesystem::permissions(data_ / "keys", std::filesystem::perms::owner_all, error);
  for (auto [key, name] : {std::pair{&root_, "root.key"}, std::pair{&log_, "log.key"},
                           std::pair{&admin_, "admin.key"}, std::pair{&service_, "service.key"}}) {
    auto made = shared_key(data_ / "keys" / name);
    if (!made) return std::unexpected(made.error());
    *key = std::move(*made);
  }
  return {};
}

Status Office::make_roster(const std::string& base_name) {
  const auto file = data_ / "roster.note";
  auto note = read_small_file(file, kLongestRoster);
  if (!note && note.error().code != Code::kNotFound) return std::unexpected(note.error());
  if (!note) {
    const auto origin = record::origin_of(base_name, 1);
    if (!origin) return fail_at("name: ", origin.error());
    record::Roster roster;
    roster.base_name = base_name;
    using Type = record::NoteKeyType;
    const auto key = [](const std::string& name, const SecretKey& secret) {
      return record::make_verifier_key(name, Type::kEd25519, secret.public_key());
    };
    const auto root = key(base_name + "/root", *root_), log = key(*origin, *log_),
               admin = key(base_name + "/admin", *admin_),
               service = key(base_name + "/service", *service_);
    for (const auto* made : {&root, &log, &admin, &service}) {
      if (!*made) return std::unexpected(made->error());
    }
    roster.root = *root;
    roster.log = *log;
    roster.admins = {{random_array<16>(), *admin}};
    roster.services = {{random_array<16>(), *service}};
    note = record::sign_roster(roster, *root_);
    if (!note) return std::unexpected(note.error());
    if (auto ok = write_private_file(file, *note); !ok) return ok;
  }
  auto roster = record::open_roster(*note);
  if (!roster) return fail_at(file.string() + ": ", roster.error());
  if (roster->base_name != base_name) {
    return fail(Code::kConflict, file.string() + ": this folder belongs to the base '" +
                                     roster->base_name +
                                     "'; set name to it, or give the new base a folder of its own");
  }
  roster_note_ = std::move(*note);
  roster_ = std::move(*roster);
  ledger_id_ = record::ledger_id_of(origin());
  return {};
}

Status Office::open_ledger() {
  ledger::Options options;
  options.folder = data_ / "ledger";
  options.signer = ledger::LogSigner{roster_.log, log_};
  options.head_file = data_ / "head.note";
  options.ledger_id = ledger_id_;
  auto opened = ledger::open_sqlite(options);
  if (!opened) return std::unexpected(opened.error());
  ledger_ = std::move(*opened);
  const Hash genesis = record::genesis_of(sha256(roster_note_));
  for (const auto* own : {&roster_.admins.front(), &roster_.services.front()}) {
    if (auto ok = ledger_->start_chain({own->device_id, 1, own->key.key, genesis}); !ok) return ok;
  }
  if (ledger_->size() > 0) return {};
  v1::RosterBody body;
  body.set_note(roster_note_);
  const auto written = write(record::Kind::kRoster, {}, body);
  return written ? Status{} : std::unexpected(written.error());
}

Result<std::unique_ptr<Office>> Office::open(const std::filesystem::path& data,
                                             const std::string& base_name) {
  std::unique_ptr<Office> office(new Office());
  office->data_ = data;
  if (auto ok = office->make_keys(); !ok) return std::unexpected(ok.error());
  if (auto ok = office->make_roster(base_name); !ok) return std::unexpected(ok.error());
  if (auto ok = office->open_ledger(); !ok) return std::unexpected(ok.error());
  return office;
}

ledger::OwnEntry Office::own_entry(record::Kind kind, const record::Id16& job,
                                   const google::protobuf::MessageLite& body) const {
  const bool service = record::is_service_kind(kind);
  ledger::OwnEntry own;
  own.header.kind = kind;
  own.header.device_id =
      service ? roster_.services.front().device_id : roster_.admins.front().device_id;
  own.header.job_id = job;
  stamp(own.header);
  own.body = body.SerializeAsString();
  own.key = service ? service_ : admin_;
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
  std::vector<ledger::OwnEntry> batch;
  batch.push_back(own_entry(kind, job, body));
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
    order.own = own_entry(record::Kind::kErase, {}, v1::EraseBody());
    order.dry_run = dry_run;
    auto erased = ledger_->erase(std::move(order));
    if (!erased) return std::unexpected(erased.error());
    leaves.erase(leaves.begin(), leaves.begin() + static_cast<std::ptrdiff_t>(erased->taken));
    out.push_back(std::move(*erased));
  }
  return out;
}

}  // namespace fairlead::watch
