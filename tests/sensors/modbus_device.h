// A real Modbus server (libmodbus) inside the test, with registers the test sets and a counter that
// steps with every request, so that a lost sample leaves a hole.
#pragma once

#include <atomic>
#include <cstdint>
#include <string>
#include <thread>

namespace fairlead::test {

class ModbusDevice {
 public:
  /// Register written into input and holding registers alike; this one holds the number of the
  /// request (from 1, wrapping at 65536).
  static constexpr int kCounterRegister = 20;
  static constexpr int kRegisters = 32;

  /// TCP on 127.0.0.1; 0 takes a free port.
  explicit ModbusDevice(int port = 0);
  /// RTU on a serial device, unit id 1.
  explicit ModbusDevice(const std::string& serial);
  ~ModbusDevice();

  [[nodiscard]] int port() const { return port_; }
  void set(int address, uint16_t word) { words_[address] = word; }
  /// Coils as they were written; discrete inputs as the test sets them.
  [[nodiscard]] bool coil(int address) const { return coils_[address]; }
  void set_input(int address, bool on) { inputs_[address] = on; }
  /// Takes requests and does not answer.
  void set_silent(bool silent) { silent_ = silent; }
  [[nodiscard]] uint64_t requests() const { return requests_; }

 private:
  void serve_tcp(int listener);
  void serve_rtu(const std::string& serial);
  struct Server;
  bool answer(Server& server);

  int port_ = 0;
  std::atomic<uint16_t> words_[kRegisters] = {};
  std::atomic<bool> coils_[kRegisters] = {};
  std::atomic<bool> inputs_[kRegisters] = {};
  std::atomic<bool> silent_ = false;
  std::atomic<uint64_t> requests_ = 0;
  std::atomic<bool> ending_ = false;
  std::thread thread_;
};

}  // namespace fairlead::test
