#include "daemon/base/bytes.h"

namespace fairlead {
namespace {

int nibble(char c) {
  if (c >= '0' && c <= '9') return c - '0';
  if (c >= 'a' && c <= 'f') return c - 'a' + 10;
  return -1;
}

}  // namespace

std::string hex_of(std::string_view bytes) {
  static constexpr char kDigits[] = "0123456789abcdef";
  std::string out;
  out.reserve(bytes.size() * 2);
  for (char c : bytes) {
    const auto byte = static_cast<uint8_t>(c);
    out += kDigits[byte >> 4];
    out += kDigits[byte & 15];
  }
  return out;
}

Result<std::string> bytes_of_hex(std::string_view hex, std::string_view what) {
  if (hex.size() % 2 != 0) {
    return fail(Code::kBadInput,
                std::string(what) + ": odd number of hex digits; give two digits a byte");
  }
  std::string out;
  out.reserve(hex.size() / 2);
  for (size_t i = 0; i < hex.size(); i += 2) {
    const int high = nibble(hex[i]), low = nibble(hex[i + 1]);
    if (high < 0 || low < 0) {
      return fail(Code::kBadInput, std::string(what) + ": not lower-case hex at character " +
                                       std::to_string(i + 1) + "; use 0-9 and a-f");
    }
    out += static_cast<char>(high * 16 + low);
  }
  return out;
}

}  // namespace fairlead
