#include "plugins/line/protocol.h"

#include <algorithm>
#include <bit>
#include <numeric>
#include <tuple>

namespace fairlead::line {

namespace {
constexpr int kMaxWords = 125;

uint16_t swapped(uint16_t word) { return static_cast<uint16_t>((word << 8) | (word >> 8)); }

int64_t raw_of(const Register& map, std::span<const uint16_t> words) {
  switch (map.type) {
    case Type::kInt16:
      return std::bit_cast<int16_t>(words[0]);
    case Type::kUint16:
      return words[0];
    case Type::kInt32:
      return std::bit_cast<int32_t>(join_words(words[0], words[1], map.order));
    case Type::kUint32:
      return join_words(words[0], words[1], map.order);
    case Type::kBit:
      return (words[0] >> map.bit) & 1;
    case Type::kFloat32:
      break;
  }
  return 0;
}

bool has(const std::vector<int64_t>& codes, int64_t raw) {
  return std::find(codes.begin(), codes.end(), raw) != codes.end();
}
}  // namespace

int words_of(Type type) {
  bool one = type == Type::kInt16 || type == Type::kUint16 || type == Type::kBit;
  return one ? 1 : 2;
}

uint32_t join_words(uint16_t first, uint16_t second, Order order) {
  bool low_word_first = order == Order::kCdab || order == Order::kDcba;
  bool low_byte_first = order == Order::kBadc || order == Order::kDcba;
  uint32_t high = low_word_first ? second : first;
  uint32_t low = low_word_first ? first : second;
  if (low_byte_first) {
    high = swapped(static_cast<uint16_t>(high));
    low = swapped(static_cast<uint16_t>(low));
  }
  return (high << 16) | low;
}

double value_of(const Register& map, double raw) {
  double value = raw * map.scale + map.offset;
  if (map.rope) value = rope_out_m(*map.rope, value);
  return map.calibration ? physics::calibrated(*map.calibration, value) : value;
}

Value evaluate(const Register& map, std::span<const uint16_t> words) {
  Value out;
  if (map.type == Type::kFloat32) {
    float raw = std::bit_cast<float>(join_words(words[0], words[1], map.order));
    out.value = value_of(map, static_cast<double>(raw));
    return out;
  }
  int64_t raw = raw_of(map, words);
  out.value = value_of(map, static_cast<double>(raw));
  if (has(map.overload, raw)) out.quality = v1::Quality::OVERLOAD;
  if (has(map.broken, raw)) out.quality = v1::Quality::BROKEN;
  return out;
}

std::vector<Block> plan_reads(const std::vector<Register>& map) {
  std::vector<size_t> order(map.size());
  std::iota(order.begin(), order.end(), size_t{0});
  std::stable_sort(order.begin(), order.end(), [&](size_t a, size_t b) {
    return std::tie(map[a].device, map[a].kind, map[a].address) <
           std::tie(map[b].device, map[b].kind, map[b].address);
  });
  std::vector<Block> blocks;
  for (size_t i : order) {
    const Register& r = map[i];
    int end = r.address + words_of(r.type);
    Block* last = blocks.empty() ? nullptr : &blocks.back();
    bool joins = last != nullptr && last->device == r.device && last->kind == r.kind &&
                 r.address <= last->address + last->count && end - last->address <= kMaxWords;
    if (!joins) {
      blocks.push_back({r.device, r.kind, r.address, 0, {}});
      last = &blocks.back();
    }
    last->count = std::max(last->count, end - last->address);
    last->members.push_back(i);
  }
  return blocks;
}

}  // namespace fairlead::line
