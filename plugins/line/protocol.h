// Modbus registers as values. Pure: words in, numbers out; the transport is elsewhere.
// A register is 16 bits, sent high byte first (Modbus Application Protocol V1.1b3, 4.2); how two of
// them make 32 bits is every maker's own choice, hence the word order.
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/physics/calibration.h"
#include "fairlead/v1/observation.pb.h"
#include "plugins/line/filter.h"
#include "plugins/line/rope.h"

namespace fairlead::line {

enum class Kind { kInput, kHolding, kDiscrete, kCoil };
enum class Type { kInt16, kUint16, kInt32, kUint32, kFloat32, kBit };
/// Where the four bytes of the value, most significant A, stand on the wire.
enum class Order { kAbcd, kCdab, kBadc, kDcba };

/// A coil the truck switches: buzzer, lamp or what else is wired to it.
struct Output {
  std::string name;
  std::string about;
  int device = 1;
  int address = 0;
};

/// One value of the register map.
struct Register {
  std::string source;
  std::string signal;
  std::string unit;
  int device = 1;  // Modbus unit id.
  Kind kind = Kind::kInput;
  int address = 0;  // From 0, as on the wire.
  Type type = Type::kInt16;
  Order order = Order::kAbcd;
  int bit = 0;  // Of a register, 0 the lowest; discrete inputs and coils have but one.
  double scale = 1;
  double offset = 0;
  Filter filter;
  std::optional<physics::Calibration> calibration;
  std::optional<Rope> rope;  // The scaled value is turns paid out; the record gets metres.
  /// Raw codes by which the amplifier says so itself.
  std::vector<int64_t> overload;
  std::vector<int64_t> broken;
};

[[nodiscard]] int words_of(Type type);

/// The 32 bits two registers make.
[[nodiscard]] uint32_t join_words(uint16_t first, uint16_t second, Order order);

/// What a raw number is worth in the register's unit.
[[nodiscard]] double value_of(const Register& map, double raw);

struct Value {
  double value = 0;  // In the register's unit; NaN when the device sent no number.
  v1::Quality::Word quality = v1::Quality::GOOD;
};
/// `words` holds words_of(type) registers; of a discrete input or coil 0 or 1. Scaled, calibrated,
/// not filtered.
[[nodiscard]] Value evaluate(const Register& map, std::span<const uint16_t> words);

/// Registers read in one request: neighbours of one device and kind, at most 125 words (the
/// protocol's limit; for discrete inputs and coils it would be 2,000).
struct Block {
  int device = 1;
  Kind kind = Kind::kInput;
  int address = 0;
  int count = 0;
  std::vector<size_t> members;  // Places in the register map.
};
[[nodiscard]] std::vector<Block> plan_reads(const std::vector<Register>& map);

}  // namespace fairlead::line
