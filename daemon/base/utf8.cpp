#include "daemon/base/utf8.h"

#include <cstdint>

namespace fairlead {
namespace {

// Length of the sequence that `first` opens and the smallest code point it may carry; 0 = invalid.
struct Lead {
  size_t length = 0;
  uint32_t bits = 0;
  uint32_t smallest = 0;
};

Lead lead_of(uint8_t first) {
  if (first < 0x80) return {1, first, 0};
  if (first >= 0xC2 && first <= 0xDF) return {2, first & 0x1FU, 0x80};
  if (first >= 0xE0 && first <= 0xEF) return {3, first & 0x0FU, 0x800};
  if (first >= 0xF0 && first <= 0xF4) return {4, first & 0x07U, 0x10000};
  return {};
}

}  // namespace

std::optional<size_t> code_points(std::string_view text) {
  size_t count = 0;
  for (size_t pos = 0; pos < text.size(); ++count) {
    const Lead lead = lead_of(static_cast<uint8_t>(text[pos]));
    if (lead.length == 0 || pos + lead.length > text.size()) return std::nullopt;
    uint32_t value = lead.bits;
    for (size_t i = 1; i < lead.length; ++i) {
      const auto next = static_cast<uint8_t>(text[pos + i]);
      if ((next & 0xC0U) != 0x80) return std::nullopt;
      value = (value << 6) | (next & 0x3FU);
    }
    const bool surrogate = value >= 0xD800 && value <= 0xDFFF;
    if (value < lead.smallest || surrogate || value > 0x10FFFF) return std::nullopt;
    pos += lead.length;
  }
  return count;
}

}  // namespace fairlead
