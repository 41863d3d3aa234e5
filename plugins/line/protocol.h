// Modbus registers as values. Pure: words in, numbers out; the transport is elsewhere.
// A register is 16 bits, sent high byte first (Modbus Application Protocol V1.1b3, 4.2); how two of
// them make 32 bits is every maker's own choice, hence the word order.
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "fairlead/v1/observation.pb.h"

namespace fairlead::line {

enum class Kind { kInput, kHolding };
enum class Type { kInt16, kUint16, kInt32, kUint32, kFloat32 };
/// Where the four bytes of the value, most significant A, stand on the wire.
enum class Order { kAbcd, kCdab, kBadc, kDcba };

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
  double scale = 1;
  double offset = 0;
  /// Raw codes by which the amplifier says so itself.
  std::vector<int64_t> overload;
  std::vector<int64_t> broken;
};

[[nodiscard]] int words_of(Type type);

/// The 32 bits two registers make.
[[nodiscard]] uint32_t join_words(uint16_t first, uint16_t second, Order order);

struct Value {
  double value = 0;  // In the register's unit; NaN when the device sent no number.
  v1::Quality::Word quality = v1::Quality::GOOD;
};
/// `words` holds words_of(type) registers.
[[nodiscard]] Value evaluate(const Register& map, std::span<const uint16_t> words);

/// Registers read in one request: neighbours of one device and kind, at most 125 words (the
/// protocol's limit).
struct Block {
  int device = 1;
  Kind kind = Kind::kInput;
  int address = 0;
  int count = 0;
  std::vector<size_t> members;  // Places in the register map.
};
[[nodiscard]] std::vector<Block> plan_reads(const std::vector<Register>& map);

}  // namespace fairlead::line
