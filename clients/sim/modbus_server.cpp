#include "clients/sim/modbus_server.h"

#include <errno.h>
#include <fmt/format.h>
#include <modbus/modbus.h>
#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <bit>
#include <memory>

#include "clients/sim/listener.h"

namespace fairlead::sim {

namespace {
constexpr int kRegisters = 64;

struct FreeContext {
  void operator()(modbus_t* context) const {
    modbus_close(context);
    modbus_free(context);
  }
};
using Context = std::unique_ptr<modbus_t, FreeContext>;
struct FreeMapping {
  void operator()(modbus_mapping_t* mapping) const { modbus_mapping_free(mapping); }
};
using Mapping = std::unique_ptr<modbus_mapping_t, FreeMapping>;

// Own conversion: libmodbus' float setters write wrong byte orders.
void put_float(uint16_t* words, double value) {
  auto bits = std::bit_cast<uint32_t>(static_cast<float>(value));
  words[0] = static_cast<uint16_t>(bits >> 16);
  words[1] = static_cast<uint16_t>(bits & 0xFFFF);
}

class Device {
 public:
  explicit Device(const Profile& profile)
      : profile_(profile), mapping_(modbus_mapping_new(0, 0, kRegisters, kRegisters)) {}

  void refresh() {
    int64_t now = mono_us();
    if (start_us_ == 0) start_us_ = now;
    double seconds = static_cast<double>(now - start_us_) / 1e6;
    for (const Place& place : register_places()) {
      double value = profile_.at(place.signal, seconds);
      put_float(mapping_->tab_input_registers + place.address, value);
      put_float(mapping_->tab_registers + place.address, value);
    }
  }
  [[nodiscard]] modbus_mapping_t* mapping() const { return mapping_.get(); }

 private:
  const Profile& profile_;
  Mapping mapping_;
  int64_t start_us_ = 0;
};

// False when the peer is gone.
bool answer_one(modbus_t* context, Device& device) {
  std::array<uint8_t, MODBUS_MAX_ADU_LENGTH> request{};
  int length = modbus_receive(context, request.data());
  if (length < 0) return false;
  if (length == 0) return true;  // For another unit.
  device.refresh();
  return modbus_reply(context, request.data(), length, device.mapping()) >= 0;
}

Status serve_tcp(Device& device, const ModbusOptions& options) {
  auto listener = Listener::open(options.port);
  if (!listener) return std::unexpected(listener.error());
  end_on_signals();
  Context context(modbus_new_tcp("127.0.0.1", 0));
  modbus_set_indication_timeout(context.get(), 0, 200'000);
  std::vector<pollfd> fds{{listener->fd(), POLLIN, 0}};
  while (!ended()) {
    poll(fds.data(), fds.size(), 200);
    for (size_t i = fds.size(); i-- > 1;) {
      if (fds[i].revents == 0) continue;
      modbus_set_socket(context.get(), fds[i].fd);
      if (answer_one(context.get(), device)) continue;
      close(fds[i].fd);
      fds.erase(fds.begin() + static_cast<std::ptrdiff_t>(i));
    }
    if ((fds[0].revents & POLLIN) == 0) continue;
    if (int client = listener->accept(); client >= 0) fds.push_back({client, POLLIN, 0});
  }
  for (size_t i = 1; i < fds.size(); ++i) close(fds[i].fd);
  modbus_set_socket(context.get(), -1);
  return {};
}

Status serve_rtu(Device& device, const ModbusOptions& options) {
  Context context(modbus_new_rtu(options.serial.c_str(), 19200, 'E', 8, 1));
  if (!context || modbus_connect(context.get()) != 0) {
    return fail(Code::kIo, fmt::format("{}: {}; check the serial device", options.serial,
                                       modbus_strerror(errno)));
  }
  modbus_set_slave(context.get(), options.unit_id);
  modbus_set_indication_timeout(context.get(), 0, 200'000);
  fmt::print("listening on {}\n", options.serial);
  std::fflush(stdout);
  end_on_signals();
  while (!ended()) {
    bool answered = answer_one(context.get(), device);
    if (!answered && errno != ETIMEDOUT) usleep(10'000);  // Line noise, or the other end is shut.
  }
  return {};
}
}  // namespace

const std::vector<Place>& register_places() {
  static const std::vector<Place> places{
      {"line.pull", 0},          {"line.out", 2},      {"deck.tilt", 4},
      {"clamp.volts", 6},        {"clamp.amps", 8},    {"clamp.pos.contact", 10},
      {"clamp.neg.contact", 12}, {"battery.temp", 14}, {"deck.accel_x", 16},
      {"deck.accel_y", 18},      {"deck.accel_z", 20},
  };
  return places;
}

Status serve_modbus(const Profile& profile, const ModbusOptions& options) {
  for (const std::string& name : profile.names()) {
    const auto& places = register_places();
    bool known = std::any_of(places.begin(), places.end(),
                             [&](const Place& place) { return place.signal == name; });
    if (!known) {
      return fail(Code::kBadInput,
                  fmt::format("{}: no register for it; see fairlead-sim modbus --help", name));
    }
  }
  Device device(profile);
  return options.serial.empty() ? serve_tcp(device, options) : serve_rtu(device, options);
}

}  // namespace fairlead::sim
