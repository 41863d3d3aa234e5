// SPDX-License-Identifier: GPL-3.0-or-later
#include "plugins/clamp/meter.h"

#include <fmt/format.h>
#include <glib.h>
#include <libsigrok/libsigrok.h>

#include <atomic>
#include <charconv>
#include <cmath>
#include <cstring>
#include <filesystem>
#include <thread>
#include <utility>
#include <vector>

namespace fairlead::clamp {

namespace {
// Turns of the library's loop in one of ours.
constexpr int kTurns = 64;

// What drivers only say in their log, with the packet's parsing, before its reading is handed out.
struct Overheard {
  bool low_battery = false;
  bool doubtful = false;
};

int overhear(void* data, int /*level*/, const char* format, va_list /*args*/) {
  auto* heard = static_cast<Overheard*>(data);
  bool low = strstr(format, "attery is low") != nullptr || strstr(format, "ow battery") != nullptr;
  if (low) heard->low_battery = true;
  if (strstr(format, "nvalid digit") != nullptr) heard->doubtful = true;
  return SR_OK;
}

// The library hands out floats: 12.64 arrives as 12.6400003. Seven digits are more than a display
// has, and what a float holds.
double as_shown(float value) {
  if (!std::isfinite(value)) return static_cast<double>(value);
  std::string text = fmt::format("{:.7g}", value);
  double shown = 0;
  std::from_chars(text.data(), text.data() + text.size(), shown);
  return shown;
}

std::string name_of(sr_mq quantity) {
  const sr_key_info* info = sr_key_info_get(SR_KEY_MQ, static_cast<uint32_t>(quantity));
  std::string name = info != nullptr && info->name != nullptr ? info->name : "something else";
  for (char& c : name) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
  return name;
}

// The serial library wants a name that is also under /sys/class/tty: true of the kernel's own
// names, and of a link elsewhere if its path is written so that it leads out of both folders.
std::string serial_name(const std::string& connection) {
  std::error_code error;
  if (!connection.starts_with("/")) return connection;
  std::filesystem::path real = std::filesystem::canonical(connection, error);
  if (error) return connection;
  bool listed = std::filesystem::exists("/sys/class/tty" / real.filename(), error);
  return listed ? real.string() : "/dev/../../.." + connection;
}
}  // namespace

struct Meter::Library {
  Settings settings;
  Take take;
  Overheard heard;
  sr_context* context = nullptr;
  sr_dev_driver* driver = nullptr;
  sr_session* session = nullptr;
  sr_dev_inst* device = nullptr;
  bool started = false;
  bool ended = false;
  std::atomic<bool> searching = false;
  std::thread search;
  GSList* found = nullptr;

  void on_packet(const sr_datafeed_packet* packet);
  Status find_driver();
  Status begin();
  static GSList* option(GSList* list, uint32_t key, GVariant* value);
  [[nodiscard]] GSList* options() const;
};

void Meter::Library::on_packet(const sr_datafeed_packet* packet) {
  if (packet->type == SR_DF_END) ended = true;
  if (packet->type != SR_DF_ANALOG) return;
  const auto* analog = static_cast<const sr_datafeed_analog*>(packet->payload);
  size_t channels = g_slist_length(analog->meaning->channels);
  if (channels == 0 || analog->num_samples == 0) return;
  std::vector<float> values(channels * analog->num_samples);
  if (sr_analog_to_float(analog, values.data()) != SR_OK) return;
  Shown shown;
  sr_mq quantity = analog->meaning->mq;
  auto flags = static_cast<uint64_t>(analog->meaning->mqflags);
  auto has = [&](uint64_t any) { return (flags & any) != 0; };
  shown.kind = quantity == SR_MQ_VOLTAGE   ? Shown::kVolts
               : quantity == SR_MQ_CURRENT ? Shown::kAmps
                                           : Shown::kOther;
  if (shown.kind == Shown::kOther) shown.what = name_of(quantity);
  shown.ac = has(SR_MQFLAG_AC);
  shown.diode = has(SR_MQFLAG_DIODE);
  shown.held =
      has(SR_MQFLAG_HOLD | SR_MQFLAG_MAX | SR_MQFLAG_MIN | SR_MQFLAG_AVG | SR_MQFLAG_RELATIVE);
  shown.low_battery = heard.low_battery;
  shown.doubtful = heard.doubtful;
  heard = {};
  // Of several samples in one packet the last is now.
  size_t at = (analog->num_samples - 1) * channels;
  for (GSList* item = analog->meaning->channels; item != nullptr; item = item->next, ++at) {
    shown.value = as_shown(values[at]);
    take(static_cast<const sr_channel*>(item->data)->name, shown);
  }
}

Status Meter::Library::find_driver() {
  if (context == nullptr) {
    if (sr_init(&context) != SR_OK) return fail(Code::kIo, "the meter library does not start");
    sr_log_callback_set(overhear, &heard);
    sr_log_loglevel_set(SR_LOG_SPEW);
  }
  if (driver != nullptr) return {};
  for (sr_dev_driver** d = sr_driver_list(context); d != nullptr && *d != nullptr; ++d) {
    if (settings.driver == (*d)->name) driver = *d;
  }
  if (driver == nullptr) {
    return fail(Code::kNotFound,
                fmt::format("the meter library has no driver \"{}\"; sigrok-cli -L "
                            "lists them",
                            settings.driver));
  }
  if (sr_driver_init(context, driver) != SR_OK) {
    driver = nullptr;
    return fail(Code::kUnavailable, fmt::format("driver {} does not start", settings.driver));
  }
  return {};
}

GSList* Meter::Library::option(GSList* list, uint32_t key, GVariant* value) {
  auto* config = g_new0(sr_config, 1);
  config->key = key;
  config->data = g_variant_ref_sink(value);
  return g_slist_append(list, config);
}

GSList* Meter::Library::options() const {
  GSList* list = nullptr;
  if (!settings.connection.empty()) {
    list =
        option(list, SR_CONF_CONN, g_variant_new_string(serial_name(settings.connection).c_str()));
  }
  if (!settings.serial.empty()) {
    list = option(list, SR_CONF_SERIALCOMM, g_variant_new_string(settings.serial.c_str()));
  }
  if (settings.driver == "demo") {
    list = option(list, SR_CONF_NUM_LOGIC_CHANNELS, g_variant_new_int32(0));
    list = option(list, SR_CONF_NUM_ANALOG_CHANNELS, g_variant_new_int32(2));
  }
  return list;
}

Status Meter::Library::begin() {
  if (sr_dev_open(device) != SR_OK) {
    return fail(Code::kUnavailable, "the meter was found but cannot be opened");
  }
  if (settings.samplerate_hz > 0) {
    auto rate = static_cast<uint64_t>(std::max(1.0, settings.samplerate_hz));
    sr_config_set(device, nullptr, SR_CONF_SAMPLERATE, g_variant_new_uint64(rate));
  }
  auto hand_on = [](const sr_dev_inst*, const sr_datafeed_packet* packet, void* self) {
    static_cast<Library*>(self)->on_packet(packet);
  };
  bool good = sr_session_new(context, &session) == SR_OK &&
              sr_session_dev_add(session, device) == SR_OK &&
              sr_session_datafeed_callback_add(session, hand_on, this) == SR_OK &&
              sr_session_start(session) == SR_OK;
  if (!good) return fail(Code::kUnavailable, "the meter was found but does not begin to send");
  started = true;
  ended = false;
  return {};
}

Meter::Meter(const Settings& settings, Take take) : library_(std::make_unique<Library>()) {
  library_->settings = settings;
  library_->take = std::move(take);
}

Meter::~Meter() {
  close();
  if (library_->search.joinable()) library_->search.detach();  // Hangs in a driver: left to exit.
}

bool Meter::is_open() const { return library_->started; }

Status Meter::open(const Wait& wait) {
  Library& l = *library_;
  if (auto ok = l.find_driver(); !ok) return ok;
  if (!l.search.joinable()) {
    l.searching = true;
    l.search = std::thread([&l] {
      GSList* options = l.options();
      l.found = sr_driver_scan(l.driver, options);
      g_slist_free_full(options, [](void* item) {
        auto* config = static_cast<sr_config*>(item);
        g_variant_unref(config->data);
        g_free(config);
      });
      l.searching = false;
    });
  }
  while (l.searching) {
    if (!wait()) return fail(Code::kUnavailable, "the search for the meter goes on");
  }
  l.search.join();
  if (l.found == nullptr) {
    return fail(Code::kUnavailable,
                fmt::format("no meter answers driver {}{}{}", l.settings.driver,
                            l.settings.connection.empty() ? "" : " on ", l.settings.connection));
  }
  l.device = static_cast<sr_dev_inst*>(l.found->data);
  g_slist_free(std::exchange(l.found, nullptr));
  auto ok = l.begin();
  if (!ok) close();
  return ok;
}

void Meter::close() {
  Library& l = *library_;
  if (l.searching) return;
  if (l.session != nullptr) {
    if (l.started) {
      sr_session_stop(l.session);
      for (int i = 0; i < kTurns && !l.ended; ++i) g_main_context_iteration(nullptr, FALSE);
    }
    sr_session_destroy(std::exchange(l.session, nullptr));
  }
  if (l.device != nullptr) {
    sr_dev_close(std::exchange(l.device, nullptr));
    sr_dev_clear(l.driver);
  }
  l.started = false;
}

bool Meter::turn() {
  for (int i = 0; i < kTurns && g_main_context_iteration(nullptr, FALSE) != 0; ++i) continue;
  return !library_->ended;
}

}  // namespace fairlead::clamp
