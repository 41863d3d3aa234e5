// A truck: its own ledger and recorder, live judging, sensor plug-ins, the link to the base.
#include <fmt/format.h>

#include <set>

#include "daemon/base/key_file.h"
#include "daemon/base/time_text.h"
#include "daemon/desk/feed_rpc.h"
#include "daemon/desk/ledger_desk.h"
#include "daemon/desk/ledger_rpc.h"
#include "daemon/desk/sensors_rpc.h"
#include "daemon/desk/server_rpc.h"
#include "daemon/log_line.h"
#include "daemon/record/packer.h"
#include "daemon/role.h"
#include "daemon/sensors/board.h"
#include "daemon/sensors/supervisor.h"
#include "daemon/uplink/key_change.h"
#include "daemon/uplink/pipe_rpc.h"
#include "daemon/uplink/truck_disk.h"
#include "daemon/uplink/uplink_room.h"
#include "daemon/watch/recorder.h"
#include "daemon/watch/shelf.h"
#include "daemon/watch/stamp.h"
#include "daemon/watch/watch.h"

namespace fairlead {
namespace {

constexpr std::chrono::milliseconds kTick{50};
constexpr std::chrono::milliseconds kKeyChange{15'000};
constexpr std::chrono::hours kFreeEvery{1};
// How long a warning sounds and shows on the truck; common practice, no source.
constexpr uint32_t kBuzzerMs = 3'000, kLampMs = 30'000;

/// What runs once the truck is enrolled: nothing can be recorded before.
class Cab {
 public:
  Cab(const Config& config, uplink::TruckDisk& disk)
      : config_(config), disk_(disk), ledger_(*disk.ledger()) {}
  ~Cab() {
    if (const auto sensors = plugins()) sensors->stop();
    ticker_.reset();
    disk_looker_.reset();
    freer_.reset();
    scrubber_.reset();
    (void)recorder_->stop("stopped by a signal");
  }

  Status start() {
    make_recorder();
    make_watch();
    if (auto ok = load_files(); !ok) return ok;
    if (auto ok = watch_->load(); !ok) return ok;
    if (auto ok = recorder_->start(kVersion); !ok) return ok;
    const auto returned = disk_.returned();
    if (!returned) return std::unexpected(returned.error());
    for (const v1::Returned& page : *returned) take_back(page);
    const auto orders = ledger_.orders(0);
    if (!orders) return std::unexpected(orders.error());
    for (const ledger::HeldOrder& order : *orders) follow(order);
    ticker_ = std::make_unique<Worker>(kTick, [this] { recorder_->tick(); });
    start_care();
    return start_sensors();
  }

  /// Does what an order says, unless it was done before: also called for all orders at start.
  void follow(const ledger::HeldOrder& held) {
    v1::OrderBody order;
    if (!order.ParseFromString(held.body)) return;
    if (order.has_file()) use_file(order.file(), held.leaf);
    if (order.has_sheet()) open_job(order.sheet());
  }

  /// Entries of this truck that its disk had lost.
  void take_back(const v1::Returned& page) {
    for (const v1::SentEntry& sent : page.entry()) {
      const auto header = record::decode_header(sent.entry());
      if (!header || sent.body().empty()) continue;
      const auto lines = record::observations_of(header->kind, sent.body());
      if (!lines) continue;
      recorder_->learn(*lines);
      for (const v1::Observation& line : *lines) watch_->line(line);
      if (header->kind == record::Kind::kJobOpen) ordered_.insert(header->job_id);
    }
  }

  /// The record goes on in a new epoch.
  void go_on() {
    recorder_->say_unknown(
        "this truck's disk was put back; whether this source said more before "
        "then nobody knows");
  }

  watch::Recorder& recorder() { return *recorder_; }
  const watch::Watch& jobs() const { return *watch_; }
  v1::GetSensorsResponse sensors_now(const v1::GetSensorsRequest& request) const {
    return board_.view(request, watch::mono_now_us());
  }
  std::vector<sensors::Health> plugin_health() const {
    const auto sensors = plugins();
    return sensors ? sensors->health() : std::vector<sensors::Health>{};
  }
  watch::DiskState room() const { return room_ ? room_->state() : watch::DiskState{}; }
  watch::ScrubState scrub() const { return scrubber_ ? scrubber_->state() : watch::ScrubState{}; }

 private:
  void make_recorder() {
    watch::RecorderOptions options;
    options.device_id = disk_.device_id();
    options.key = disk_.key();
    options.limits.strip_for_us = config_.strip_span_ms * 1'000;
    options.seen_head = [this] { return disk_.newest_head(); };
    options.pins = [this](const v1::Opened& opened) { return shelf_.pins_for(opened); };
    options.on_line = [this](const v1::Observation& line) { watch_->line(line); };
    recorder_ = std::make_unique<watch::Recorder>(ledger_, std::move(options));
  }

  void make_watch() {
    watch::WatchOptions options;
    options.device_id = disk_.device_id();
    options.pins = [this](const v1::Opened& opened) { return shelf_.pins_for(opened); };
    options.say = [this](v1::Observation line) {
      const bool warning = line.has_warning();
      recorder_->say(std::move(line));
      if (warning) sound();
    };
    options.log = log_line;
    // A warning is due within a second of the reading that decides, and one more judging is cheap.
    options.at_most_every = std::chrono::milliseconds(250);
    watch_ = std::make_unique<watch::Watch>(ledger_, std::move(options));
  }

  // What the base keeps need not lie here for ever.
  void free_held() {
    const auto freed = disk_.free_held(config_.retention, watch::wall_now_us());
    if (!freed) return log_line("bodies cannot be freed: " + freed.error().message);
    if (*freed > 0)
      log_line(fmt::format("{} bodies freed; the base has held them long enough", *freed));
  }

  // The disk's room and the re-reading of everything.
  void start_care() {
    room_ = std::make_unique<watch::TruckDiskRoom>(ledger_, *recorder_, disk_.device_id(),
                                                   disk_.key(), config_.disk,
                                                   watch::space_of(config_.data), log_line);
    room_->look();
    disk_looker_ = std::make_unique<Worker>(std::chrono::milliseconds(config_.disk.look_every_ms),
                                            [this] { room_->look(); });
    freer_ = std::make_unique<Worker>(kFreeEvery, [this] { free_held(); });
    watch::ScrubOptions options;
    options.every = std::chrono::days(config_.disk.scrub_days);
    options.log = log_line;
    scrubber_ = std::make_unique<watch::Scrubber>(ledger_, std::move(options));
  }

  // Which files were taken in force before, so that a restart does not say so again.
  Status load_files() {
    constexpr size_t kMost = 100'000;
    const auto entries = ledger_.entries_of_kind(record::Kind::kInForce, 0, kMost);
    if (!entries) return std::unexpected(entries.error());
    for (const ledger::StoredEntry& entry : *entries) {
      v1::InForceBody body;
      if (body.ParseFromString(entry.body)) in_force_.insert(body.order_leaf());
    }
    return {};
  }

  void use_file(const v1::RegisterFileBody& file, uint64_t leaf) {
    if (auto ok = ledger_.put_file(file.content()); !ok) {
      log_line(fmt::format("{}: cannot be kept: {}", file.name(), ok.error().message));
      return;
    }
    // On record first: no job may pin a file that is not in force yet.
    if (in_force_.insert(leaf).second) say_in_force(file, leaf);
    shelf_.add(file, leaf, watch::wall_now_us());
  }

  void say_in_force(const v1::RegisterFileBody& file, uint64_t leaf) {
    v1::InForceBody body;
    body.mutable_file()->set_name(file.name());
    body.mutable_file()->set_kind(file.kind());
    body.mutable_file()->set_sha256(string_of(sha256(file.content())));
    body.set_order_leaf(leaf);
    recorder_->append(record::Kind::kInForce, body.SerializeAsString());
    log_line(fmt::format("{}: in force", file.name()));
  }

  void open_job(const v1::OrderBody::Sheet& sheet) {
    const auto id = array_of<16>(sheet.job_id(), "order");
    if (!id || ledger_.job(*id) || !ordered_.insert(*id).second) return;
    v1::Observation line = sheet.opened();
    line.set_time(format_time_us(watch::wall_now_us()));
    line.clear_clock();
    log_line(fmt::format("job {} {}: ordered by the desk: {} for {}", sheet.words(), line.job(),
                         fmt::join(line.opened().procedures(), ", "), line.opened().vehicle()));
    recorder_->say(std::move(line));
  }

  std::shared_ptr<sensors::Supervisor> plugins() const {
    const std::lock_guard lock(sensors_mutex_);
    return sensors_;
  }

  // Nobody looks at a page while the line moves: the truck itself says it. Both go off by
  // themselves; whether any plug-in has them is its settings' matter.
  void sound() const {
    const auto sensors = plugins();
    if (!sensors) return;
    sensors->command("buzzer", true, kBuzzerMs);
    sensors->command("lamp", true, kLampMs);
  }

  Status start_sensors() {
    if (config_.plugins.empty()) return {};
    std::vector<sensors::PluginSpec> specs;
    for (const PluginConfig& plugin : config_.plugins) {
      specs.push_back({plugin.id, plugin.program, plugin.settings_toml, plugin.required});
    }
    sensors::SupervisorOptions options;
    options.runtime_dir = config_.data / "run";
    options.log = [](std::string_view words) { log_line(std::string(words)); };
    auto started = sensors::Supervisor::start(std::move(options), std::move(specs),
                                              [this](const v1::Observation& line) {
                                                if (!recorder_->offer(line)) return false;
                                                board_.see(line, watch::mono_now_us());
                                                return true;
                                              });
    if (!started) return std::unexpected(started.error());
    const std::lock_guard lock(sensors_mutex_);
    sensors_ = std::move(*started);
    return {};
  }

  const Config& config_;
  uplink::TruckDisk& disk_;
  ledger::Ledger& ledger_;
  watch::Shelf shelf_;
  std::set<uint64_t> in_force_;     // Order leaves.
  std::set<record::Id16> ordered_;  // Opened by order in this run.
  std::unique_ptr<watch::Recorder> recorder_;
  std::unique_ptr<watch::Watch> watch_;
  std::unique_ptr<watch::TruckDiskRoom> room_;
  std::unique_ptr<watch::Scrubber> scrubber_;
  std::unique_ptr<Worker> ticker_, disk_looker_, freer_;
  sensors::Board board_;
  mutable std::mutex sensors_mutex_;
  std::shared_ptr<sensors::Supervisor> sensors_;
};

class Truck : public RunningRole {
 public:
  explicit Truck(const Config& config) : config_(config) {}
  ~Truck() override {
    server_.reset();
    uplink_.reset();
    const std::lock_guard lock(mutex_);
    cab_.reset();
  }

  Status start() {
    if (!config_.procedures.empty() || !config_.register_files.empty()) {
      return fail(Code::kBadInput,
                  "files: a truck gets its files from its base; name them in the base's settings");
    }
    if (auto ok = load_tls(); !ok) return ok;
    auto lock = FolderLock::take(config_.data);
    if (!lock) return std::unexpected(lock.error());
    lock_.emplace(std::move(*lock));
    auto disk = uplink::TruckDisk::open(config_.data, config_.name);
    if (!disk) return std::unexpected(disk.error());
    disk_ = std::move(*disk);
    if (tls_ && tls_->own.identity.id != hex_of(disk_->device_id())) {
      return fail(Code::kBadInput,
                  fmt::format("{}: is of device {}, this truck is {}; a truck needs its own",
                              config_.tls.certificate.string(), tls_->own.identity.id,
                              hex_of(disk_->device_id())));
    }
    disk_->on_enrolled = [this] { enter(); };
    disk_->on_order = [this](const ledger::HeldOrder& order) {
      const std::lock_guard guard(mutex_);
      if (cab_) cab_->follow(order);
    };
    disk_->on_returned = [this](const v1::Returned& page) {
      const std::lock_guard guard(mutex_);
      if (cab_) cab_->take_back(page);
    };
    disk_->on_epoch = [this] {
      const std::lock_guard guard(mutex_);
      if (cab_) cab_->go_on();
    };
    uplink::UplinkOptions options;
    options.dial = [this] { return uplink::dial(config_.base_address, tls_.get()); };
    options.longest_pause = std::chrono::milliseconds(config_.reconnect_longest_ms);
    options.log = log_line;
    change_key(options);
    if (disk_->ledger() != nullptr) enter();
    if (!failure().empty()) return fail(Code::kIo, failure());
    if (auto ok = listen(); !ok) return ok;
    uplink_ = std::make_unique<uplink::UplinkRoom>(*disk_, std::move(options));
    log_line(fmt::format("truck '{}' listens on {}{}", config_.name, server_->address(),
                         disk_->ledger() == nullptr ? ", not enrolled yet" : ""));
    if (const auto shown = disk_->cab_code(); !shown.code.empty()) {
      log_line(
          fmt::format("one-time code {}: tell it to an officer at the base, with device.pub "
                      "from {}",
                      shown.code, config_.data.string()));
    }
    return {};
  }

  std::string failure() const override {
    const std::lock_guard lock(mutex_);
    if (!trouble_.empty()) return trouble_;
    const ledger::Ledger* own = disk_->ledger();
    return own == nullptr ? std::string() : own->failure();
  }

 private:
  // Before anything is recorded; a base that is out of reach costs a few seconds once.
  void change_key(const uplink::UplinkOptions& options) {
    if (!disk_->has_next_key() || disk_->ledger() == nullptr) return;
    const auto done = uplink::change_key(*disk_, options, kKeyChange);
    log_line(done ? "the new key signs from here on"
                  : "the old key goes on, the next start tries again: " + done.error().message);
  }

  Status load_tls() {
    if (config_.tls.empty()) return {};
    require_tls13();
    auto tls = load_tls_files(config_.tls);
    if (!tls) return std::unexpected(tls.error());
    if ((*tls)->own.identity.role != PeerRole::kTruck) {
      return fail(Code::kBadInput, config_.tls.certificate.string() +
                                       ": is no truck's certificate; make one with fairlead enrol "
                                       "certificate --truck");
    }
    tls_ = std::move(*tls);
    return {};
  }

  void enter() {
    auto cab = std::make_unique<Cab>(config_, *disk_);
    const Status started = cab->start();
    const std::lock_guard lock(mutex_);
    if (!started) trouble_ = started.error().message;
    cab_ = std::move(cab);
  }

  watch::Recorder* recorder() {
    const std::lock_guard lock(mutex_);
    return cab_ ? &cab_->recorder() : nullptr;
  }

  desk::SensorsCalls sensors_calls() {
    const auto not_yet = [] {
      return fail(Code::kUnavailable,
                  "this truck is not enrolled yet; its sensors have not started");
    };
    desk::SensorsCalls calls;
    calls.get = [this, not_yet](const auto& request) -> Result<v1::GetSensorsResponse> {
      const std::lock_guard lock(mutex_);
      if (!cab_) return not_yet();
      return cab_->sensors_now(request);
    };
    calls.say_now = [this, not_yet](v1::Observation line) -> Result<uint64_t> {
      watch::Recorder* own = recorder();
      if (own == nullptr) return not_yet();
      return own->say_now(std::move(line));
    };
    calls.wall_us = watch::wall_now_us;
    return calls;
  }

  Status listen() {
    std::vector<std::unique_ptr<grpc::Service>> services;
    services.push_back(desk::make_feed_service([this] { return recorder(); }, pool_));
    services.push_back(desk::make_sensors_service(sensors_calls(), pool_));
    services.push_back(desk::make_status_service([this] { return status(); }, pool_));
    auto server = desk::Server::start({config_.listen, nullptr, {}, nullptr}, std::move(services));
    if (!server) return std::unexpected(server.error());
    server_ = std::move(*server);
    return {};
  }

  static void add_plugin(v1::GetStatusResponse& response, const sensors::Health& health) {
    v1::PluginStanding& plugin = *response.add_plugin();
    plugin.set_id(health.id);
    plugin.set_required(health.required);
    plugin.set_state(std::string(sensors::state_name(health.state)));
    plugin.set_missing(health.missing());
    plugin.set_trouble(health.trouble);
    if (health.required && health.missing()) response.set_red_light(true);
  }

  v1::GetStatusResponse status() {
    v1::GetStatusResponse response;
    response.set_role("truck");
    response.set_name(config_.name);
    response.set_data_folder(std::filesystem::absolute(config_.data).string());
    response.set_connected(uplink_ && uplink_->connected());
    if (const uint64_t size = disk_->cosigned_size(); size > 0)
      response.add_countersigner()->set_size(size);
    const ledger::Ledger* own = disk_->ledger();
    response.set_enrolled(own != nullptr);
    if (const auto shown = disk_->cab_code(); !shown.code.empty()) {
      response.set_enrol_code(shown.code);
      response.set_enrol_code_until(format_time_us(shown.until_us));
    }
    response.set_copy(disk_->copy_mark());
    if (own == nullptr) return response;
    if (const auto enrolment = disk_->enrolment(); enrolment && *enrolment) {
      response.set_origin((*enrolment)->origin());
    }
    if (const auto mark = own->watermark(disk_->device_id())) {
      response.set_entries(mark->seq);
      response.set_acked_seq(mark->acked_seq);
    }
    if (const auto orders = own->orders(0)) response.set_orders(orders->size());
    const std::lock_guard lock(mutex_);
    if (!cab_) return response;
    for (const watch::JobView& view : cab_->jobs().jobs()) {
      if (!view.closed) response.add_open_job(view.name);
    }
    for (const sensors::Health& health : cab_->plugin_health()) add_plugin(response, health);
    *response.mutable_disk() = desk::disk_message(cab_->room());
    *response.mutable_scrub() = desk::scrub_message(cab_->scrub());
    return response;
  }

  const Config config_;
  std::shared_ptr<const TlsFiles> tls_;
  std::optional<FolderLock> lock_;
  std::unique_ptr<uplink::TruckDisk> disk_;
  mutable std::mutex mutex_;  // Guards cab_ (made once) and trouble_.
  std::unique_ptr<Cab> cab_;
  std::string trouble_;
  std::unique_ptr<uplink::UplinkRoom> uplink_;
  desk::Pool pool_;
  std::unique_ptr<desk::Server> server_;
};

}  // namespace

Result<std::unique_ptr<RunningRole>> start_truck(const Config& config) {
  auto truck = std::make_unique<Truck>(config);
  if (auto ok = truck->start(); !ok) return std::unexpected(ok.error());
  return truck;
}

}  // namespace fairlead
