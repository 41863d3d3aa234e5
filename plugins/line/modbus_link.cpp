#include "plugins/line/modbus_link.h"

#include <errno.h>
#include <fmt/format.h>
#include <modbus/modbus.h>

#include <algorithm>
#include <utility>

namespace fairlead::line {

namespace {
// Exception codes of the device stand above this number in errno.
constexpr int kExceptionBase = MODBUS_ENOBASE;
}  // namespace

Status ModbusLink::open() {
  before_each_();
  const LinkSettings& s = settings_;
  std::string where = s.tcp ? fmt::format("{}:{}", s.host, s.port) : s.serial;
  context_ = s.tcp ? modbus_new_tcp(s.host.c_str(), s.port)
                   : modbus_new_rtu(s.serial.c_str(), s.baud, s.parity, 8, s.stop_bits);
  if (context_ == nullptr) {
    return fail(Code::kUnavailable, fmt::format("{}: {}", where, modbus_strerror(errno)));
  }
  auto deadline_s = static_cast<uint32_t>(s.deadline_us / 1'000'000);
  auto deadline_us = static_cast<uint32_t>(s.deadline_us % 1'000'000);
  modbus_set_response_timeout(context_, deadline_s, deadline_us);
  // Without a byte timeout the response timeout holds for the whole answer.
  modbus_set_byte_timeout(context_, 0, 0);
  if (modbus_connect(context_) != 0) {
    std::string why = modbus_strerror(errno);
    close();
    return fail(Code::kUnavailable, fmt::format("no connection to {}: {}", where, why));
  }
  if (!s.tcp && s.rs485 && modbus_rtu_set_serial_mode(context_, MODBUS_RTU_RS485) != 0) {
    std::string why = modbus_strerror(errno);
    close();
    return fail(Code::kUnavailable,
                fmt::format("{} has no RS-485 direction control ({}); set direction = \"none\"",
                            where, why));
  }
  return {};
}

void ModbusLink::close() {
  if (context_ == nullptr) return;
  modbus_close(context_);
  modbus_free(std::exchange(context_, nullptr));
}

int ModbusLink::ask(const Block& block, std::vector<uint16_t>& words) {
  before_each_();
  modbus_set_slave(context_, block.device);
  switch (block.kind) {
    case Kind::kInput:
      return modbus_read_input_registers(context_, block.address, block.count, words.data());
    case Kind::kHolding:
      return modbus_read_registers(context_, block.address, block.count, words.data());
    case Kind::kDiscrete:
    case Kind::kCoil:
      break;
  }
  std::vector<uint8_t> bits(words.size());
  int got = block.kind == Kind::kCoil
                ? modbus_read_bits(context_, block.address, block.count, bits.data())
                : modbus_read_input_bits(context_, block.address, block.count, bits.data());
  std::copy(bits.begin(), bits.end(), words.begin());
  return got;
}

Result<std::vector<uint16_t>> ModbusLink::read(const Block& block) {
  std::vector<uint16_t> words(static_cast<size_t>(block.count));
  int got = ask(block, words);
  if (got < 0 && errno == EMBBADCRC && !settings_.tcp) {
    // Noise on the line: once more. What follows must not be taken for the answer.
    modbus_flush(context_);
    got = ask(block, words);
  }
  if (got == block.count) return words;
  int error = errno;
  return std::unexpected(
      trouble(error, got >= 0, fmt::format("unit {} register {}", block.device, block.address)));
}

Status ModbusLink::switch_coil(const Output& output, bool on) {
  before_each_();
  modbus_set_slave(context_, output.device);
  int done = modbus_write_bit(context_, output.address, on ? TRUE : FALSE);
  if (done == 1) return {};
  int error = errno;
  return std::unexpected(
      trouble(error, false, fmt::format("unit {} coil {}", output.device, output.address)));
}

Error ModbusLink::trouble(int error, bool short_answer, const std::string& where) {
  std::string why = short_answer ? "short answer" : modbus_strerror(error);
  bool device_said_no = !short_answer && error > kExceptionBase && error < EMBBADCRC;
  if (!device_said_no) {
    // A late answer must not be taken for the next one.
    if (settings_.tcp || error == EIO || error == EBADF || error == ENODEV || error == ENXIO) {
      close();
    } else {
      modbus_flush(context_);
    }
  }
  return {Code::kUnavailable, fmt::format("{}: {}", where, why)};
}

}  // namespace fairlead::line
