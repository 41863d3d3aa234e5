#include "tests/sensors/modbus_device.h"

#include <errno.h>
#include <gtest/gtest.h>
#include <modbus/modbus.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <vector>

namespace fairlead::test {

struct ModbusDevice::Server {
  modbus_t* context = nullptr;
  modbus_mapping_t* mapping = modbus_mapping_new(kRegisters, kRegisters, kRegisters, kRegisters);
  explicit Server(modbus_t* made) : context(made) {
    modbus_set_indication_timeout(context, 0, 100'000);
  }
  ~Server() {
    modbus_mapping_free(mapping);
    modbus_free(context);
  }
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;
};

ModbusDevice::ModbusDevice(int port) {
  int listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
  int yes = 1;
  setsockopt(listener, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  address.sin_port = htons(static_cast<uint16_t>(port));
  socklen_t size = sizeof address;
  EXPECT_EQ(bind(listener, reinterpret_cast<sockaddr*>(&address), size), 0);
  EXPECT_EQ(getsockname(listener, reinterpret_cast<sockaddr*>(&address), &size), 0);
  EXPECT_EQ(listen(listener, 4), 0);
  port_ = ntohs(address.sin_port);
  thread_ = std::thread([this, listener] { serve_tcp(listener); });
}

ModbusDevice::ModbusDevice(const std::string& serial) {
  thread_ = std::thread([this, serial] { serve_rtu(serial); });
}

ModbusDevice::~ModbusDevice() {
  ending_ = true;
  thread_.join();
}

bool ModbusDevice::answer(Server& server) {
  std::array<uint8_t, MODBUS_MAX_ADU_LENGTH> request{};
  int length = modbus_receive(server.context, request.data());
  if (length <= 0) return length == 0;
  if (silent_) return true;
  words_[kCounterRegister] = static_cast<uint16_t>(++requests_);
  for (int i = 0; i < kRegisters; ++i) {
    server.mapping->tab_input_registers[i] = words_[i];
    server.mapping->tab_registers[i] = words_[i];
    server.mapping->tab_input_bits[i] = inputs_[i] ? 1 : 0;
    server.mapping->tab_bits[i] = coils_[i] ? 1 : 0;
  }
  bool answered = modbus_reply(server.context, request.data(), length, server.mapping) >= 0;
  for (int i = 0; i < kRegisters; ++i) coils_[i] = server.mapping->tab_bits[i] != 0;
  return answered;
}

void ModbusDevice::serve_tcp(int listener) {
  Server server(modbus_new_tcp("127.0.0.1", 0));
  std::vector<pollfd> fds{{listener, POLLIN, 0}};
  while (!ending_) {
    poll(fds.data(), fds.size(), 50);
    for (size_t i = fds.size(); i-- > 1;) {
      if (fds[i].revents == 0) continue;
      modbus_set_socket(server.context, fds[i].fd);
      if (answer(server)) continue;
      close(fds[i].fd);
      fds.erase(fds.begin() + static_cast<std::ptrdiff_t>(i));
    }
    if ((fds[0].revents & POLLIN) != 0) {
      fds.push_back({accept(listener, nullptr, nullptr), POLLIN, 0});
    }
  }
  for (const pollfd& fd : fds) close(fd.fd);
}

void ModbusDevice::serve_rtu(const std::string& serial) {
  Server server(modbus_new_rtu(serial.c_str(), 19200, 'E', 8, 1));
  EXPECT_EQ(modbus_connect(server.context), 0) << serial;
  modbus_set_slave(server.context, 1);
  while (!ending_) answer(server);
  modbus_close(server.context);
}

}  // namespace fairlead::test
