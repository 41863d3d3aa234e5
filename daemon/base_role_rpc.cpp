// A base: ledger, intake, watch, desk, behind one gRPC server.
#include <fmt/format.h>

#include <algorithm>
#include <fstream>

#include "daemon/base/address.h"
#include "daemon/base/key_file.h"
#include "daemon/desk/claim_steps.h"
#include "daemon/desk/deliveries.h"
#include "daemon/desk/register.h"
#include "daemon/desk/retention_desk.h"
#include "daemon/desk/server_rpc.h"
#include "daemon/desk/services_rpc.h"
#include "daemon/intake/intake_rpc.h"
#include "daemon/judge/shipped.h"
#include "daemon/log_line.h"
#include "daemon/role.h"
#include "daemon/watch/stamp.h"

namespace fairlead {
namespace {

constexpr std::chrono::milliseconds kTick{50}, kDailyLook{60'000};
constexpr size_t kLongestFile = 1 << 20;
constexpr std::chrono::seconds kHeadMailEvery{5}, kCourierEvery{5};

// Files as named, and the text files of folders as named, in the order of their names.
Result<std::vector<std::filesystem::path>> list_files(
    const std::vector<std::filesystem::path>& given) {
  std::vector<std::filesystem::path> out;
  for (const auto& path : given) {
    std::error_code error;
    if (!std::filesystem::is_directory(path, error)) {
      out.push_back(path);
      continue;
    }
    std::vector<std::filesystem::path> inside;
    for (const auto& item : std::filesystem::directory_iterator(path, error)) {
      if (item.path().extension() == ".textproto") inside.push_back(item.path());
    }
    if (error) return fail(Code::kIo, path.string() + ": cannot be listed: " + error.message());
    std::ranges::sort(inside);
    out.insert(out.end(), inside.begin(), inside.end());
  }
  return out;
}

class Base : public RunningRole {
 public:
  explicit Base(const Config& config) : config_(config) {}
  ~Base() override {
    server_.reset();
    courier_.reset();
    head_mail_.reset();
    ticker_.reset();
    keeper_.reset();
    disk_looker_.reset();
    scrubber_.reset();
    if (import_) (void)import_->stop("stopped by a signal");
  }

  Status start() {
    if (!config_.tls.empty()) {
      require_tls13();
      auto tls = load_tls_files(config_.tls);
      if (!tls) return std::unexpected(tls.error());
      tls_ = std::move(*tls);
    }
    auto lock = FolderLock::take(config_.data);
    if (!lock) return std::unexpected(lock.error());
    lock_.emplace(std::move(*lock));
    auto office =
        watch::Office::open(config_.data, config_.name,
                            {.countersigned = asks_countersigner(), .alone = config_.alone});
    if (!office) return std::unexpected(office.error());
    office_ = std::move(*office);
    if (!office_->notice().empty()) log_line(office_->notice());
    devices_ = std::make_unique<intake::Devices>(*office_);
    for (auto step : {&Base::load, &Base::start_import, &Base::open_countersigning,
                      &Base::start_rooms, &Base::put_files, &Base::put_policy, &Base::start_care,
                      &Base::start_deliveries, &Base::listen}) {
      if (auto ok = (this->*step)(); !ok) return ok;
    }
    log_line(fmt::format("base '{}' listens on {}, ledger {} with {} entries in {}", config_.name,
                         server_->address(), office_->origin(), office_->ledger().size(),
                         config_.data.string()));
    if (const std::string words = office_->heads().frozen(); !words.empty())
      log_line("takes nothing in: " + words);
    if (office_->heads().waiting())
      log_line(
          "signs nothing until a truck or the countersigner (fairlead countersign push, or request "
          "and take) has shown that this disk is the newest; --alone goes on without");
    return {};
  }
  std::string failure() const override { return office_->ledger().failure(); }

 private:
  Status load() {
    if (auto ok = devices_->load(); !ok) return ok;
    return desk::load_shelf(office_->ledger(), shelf_);
  }

  // Fed lines, and what the desk itself says, are the entries of a device of the base's own.
  Status start_import() {
    auto key = load_or_make_key(config_.data / "keys" / "import.key");
    if (!key) return std::unexpected(key.error());
    const PublicKey public_key = key->public_key();
    record::Id16 id{};
    const auto name = "import." + config_.name;
    if (const auto known = devices_->find_name(name)) {
      id = known->id;
    } else {
      v1::EnrolBody body;
      id = random_array<16>();
      body.set_device_id(string_of(id));
      body.set_public_key(string_of(public_key.bytes));
      body.set_device_name(name);
      body.set_kind(v1::EnrolBody::IMPORT);
      if (const auto enrolled = devices_->enrol(body); !enrolled)
        return std::unexpected(enrolled.error());
    }
    watch::RecorderOptions options;
    options.device_id = import_id_ = id;
    options.key = std::make_shared<const SecretKey>(std::move(*key));
    options.clock = "import";
    options.alone = config_.alone;
    options.pins = [this](const v1::Opened& opened) { return shelf_.pins_for(opened); };
    import_ = std::make_unique<watch::Recorder>(office_->ledger(), std::move(options));
    // An older copy of a base is read only.
    return office_->heads().frozen().empty() ? import_->start(kVersion) : Status{};
  }

  Status open_countersigning() {
    auto opened = desk::Countersigning::open(*office_, config_.countersigners,
                                             static_cast<size_t>(config_.countersign_threshold),
                                             watch::wall_now_us);
    if (!opened) return std::unexpected(opened.error());
    countersigning_ = std::move(*opened);
    return {};
  }

  Status start_rooms() {
    watch::WatchOptions watching;
    watching.office = office_.get();
    watching.log = log_line;
    watch_ = std::make_unique<watch::Watch>(office_->ledger(), std::move(watching));
    if (auto ok = watch_->load(); !ok) return ok;
    intake::RoomOptions options;
    options.enrols =
        config_.enrol_on_first_contact && check_local_address(config_.listen).has_value();
    options.on_body = watch_->body_hook();
    options.log = log_line;
    options.cosigned = &countersigning_->heads();
    room_ = std::make_unique<intake::IntakeRoom>(*office_, *devices_, std::move(options));
    desk_ = std::make_unique<desk::Desk>(
        desk::Desk{*office_,
                   shelf_,
                   *watch_,
                   *devices_,
                   *import_,
                   import_id_,
                   [this] { room_->notify_orders(); },
                   [this](const record::Id16& id) { return room_->connected(id); },
                   countersigning_.get(),
                   {},
                   {},
                   nullptr});
    ticker_ = std::make_unique<Worker>(kTick, [this] { import_->tick(); });
    return {};
  }

  // The disk's room, the re-reading of everything, the daily retention.
  Status start_care() {
    disk_ = std::make_unique<watch::BaseDisk>(*office_, config_.disk, watch::space_of(config_.data),
                                              log_line);
    disk_->look();
    disk_looker_ = std::make_unique<Worker>(std::chrono::milliseconds(config_.disk.look_every_ms),
                                            [this] { disk_->look(); });
    watch::ScrubOptions options;
    options.every = std::chrono::days(config_.disk.scrub_days);
    options.log = log_line;
    options.damaged = [this](const std::string& item) {
      v1::AlarmBody alarm;
      alarm.set_cause(v1::AlarmBody::SCRUB);
      alarm.set_words(item);
      office_->write_later(record::Kind::kAlarm, {}, alarm, [](const auto&) {});
    };
    scrubber_ = std::make_unique<watch::Scrubber>(office_->ledger(), std::move(options));
    desk_->retention = config_.retention;
    desk_->disk = [this] { return disk_->state(); };
    desk_->scrubber = scrubber_.get();
    desk_->revoked = std::make_shared<RevokedCertificates>(config_.data);
    keeper_ = std::make_unique<Worker>(kDailyLook, [this] {
      desk::daily_retention(*desk_, log_line);
      desk::daily_reminders(*desk_, log_line);
    });
    return {};
  }

  // Summaries that go out by themselves, on a worker of their own: a mail server may be slow.
  Status start_deliveries() {
    if (config_.schedules.empty() || !office_->heads().frozen().empty()) return {};
    desk::DeliveryOptions options;
    options.mail = config_.mail;
    options.schedules = config_.schedules;
    options.now_us = watch::wall_now_us;
    options.log = log_line;
    auto opened = desk::Deliveries::open(*desk_, std::move(options));
    if (!opened) return std::unexpected(opened.error());
    deliveries_ = std::move(*opened);
    courier_ = std::make_unique<Worker>(kCourierEvery, [this] { deliveries_->tick(); });
    return {};
  }

  Status put_file(const std::string& name, const std::string& bytes,
                  v1::FileKind::Word kind = v1::FileKind::UNSET) {
    v1::PutFileRequest request;
    request.set_name(name);
    request.set_kind(kind);
    request.set_content(bytes);
    const auto put = desk::put_file(*desk_, request);
    if (!put) return std::unexpected(put.error());
    if (!put->already_there())
      log_line(fmt::format("{}: in force from entry {}", name, put->leaf_index()));
    return {};
  }

  // The shipped procedures stand in unless the settings name others.
  Status put_files() {
    if (!office_->heads().frozen().empty()) return {};
    if (config_.procedures.empty()) {
      for (const std::string& id : judge::shipped_procedure_ids()) {
        const auto file = judge::shipped_procedure(id);
        if (auto ok = put_file(file->name, file->bytes); !ok) return ok;
      }
    }
    for (const auto* given : {&config_.procedures, &config_.register_files}) {
      const auto files = list_files(*given);
      if (!files) return std::unexpected(files.error());
      for (const auto& file : *files) {
        const auto bytes = read_small_file(file, kLongestFile);
        if (!bytes) return std::unexpected(bytes.error());
        if (auto ok = put_file(file.filename().string(), *bytes); !ok) return ok;
      }
    }
    return {};
  }

  // A base that never published a head has shown none to anybody.
  bool asks_countersigner() const {
    std::error_code error;
    return !config_.countersigners.empty() &&
           std::filesystem::exists(config_.data / "head.note", error);
  }

  // Who countersigns stands in the record, and so does that nobody does any more.
  Status put_policy() {
    if (!office_->heads().frozen().empty()) return {};
    const std::string name = desk::Countersigning::kPolicyName;
    const auto files = shelf_.in_force();
    if (countersigning_->any() ||
        std::ranges::any_of(files, [&](const auto& file) { return file.pin.name() == name; })) {
      if (auto ok = put_file(name, countersigning_->policy_text(), v1::FileKind::POLICY); !ok)
        return ok;
    }
    head_mail_ = std::make_unique<Worker>(kHeadMailEvery, [this] {
      if (const auto ok = countersigning_->tick(); !ok)
        log_line("head mail: " + ok.error().message);
    });
    head_mail_->post([this] { (void)countersigning_->tick(); });
    return {};
  }

  Status listen() {
    auto services = desk::make_desk_services(*desk_, pool_, deliveries_.get());
    services.push_back(intake::make_intake_service(*room_));
    const auto socket = std::filesystem::absolute(config_.data) / "base.sock";
    auto server = desk::Server::start(
        {config_.listen, tls_, "unix:" + socket.string(), desk_->revoked}, std::move(services));
    if (!server) return std::unexpected(server.error());
    server_ = std::move(*server);
    return {};
  }

  // Destroyed from the last to the first. The ledger outlives the rooms; what it still says then
  // goes to workers that have ended and is dropped.
  const Config config_;
  std::shared_ptr<const TlsFiles> tls_;
  std::optional<FolderLock> lock_;
  watch::Shelf shelf_;
  std::unique_ptr<watch::Office> office_;
  std::unique_ptr<intake::Devices> devices_;
  std::unique_ptr<watch::Recorder> import_;
  record::Id16 import_id_{};
  std::unique_ptr<watch::Watch> watch_;
  std::unique_ptr<desk::Countersigning> countersigning_;
  std::unique_ptr<intake::IntakeRoom> room_;
  std::unique_ptr<desk::Desk> desk_;
  std::unique_ptr<desk::Deliveries> deliveries_;
  std::unique_ptr<watch::BaseDisk> disk_;
  std::unique_ptr<watch::Scrubber> scrubber_;
  std::unique_ptr<Worker> ticker_, head_mail_, courier_, disk_looker_, keeper_;
  desk::Pool pool_;
  std::unique_ptr<desk::Server> server_;
};

}  // namespace

Result<std::unique_ptr<RunningRole>> start_base(const Config& config) {
  auto base = std::make_unique<Base>(config);
  if (auto ok = base->start(); !ok) return std::unexpected(ok.error());
  return base;
}

}  // namespace fairlead
