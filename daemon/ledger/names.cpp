#include "daemon/ledger/names.h"

#include <algorithm>

#include "daemon/base/bytes.h"

namespace fairlead::ledger {
namespace {

bool is_hex(char c) { return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f'); }

// A text field of protobuf is its length, one byte up to 127, and the text.
template <typename Take>
void each_hex_field(std::string_view body, size_t digits, Take take) {
  const char length = static_cast<char>(digits);
  for (size_t at = body.find(length); at != std::string_view::npos && at + digits < body.size();
       at = body.find(length, at + 1)) {
    const std::string_view text = body.substr(at + 1, digits);
    if (std::ranges::all_of(text, is_hex)) take(text);
  }
}

}  // namespace

std::vector<Hash> attachments_in(std::string_view body) {
  std::vector<Hash> out;
  each_hex_field(body, 64, [&](std::string_view text) {
    const Hash hash = *array_of_hex<32>(text, "sha256");
    if (std::ranges::find(out, hash) == out.end()) out.push_back(hash);
  });
  return out;
}

std::vector<std::string> cards_in(std::string_view body) {
  std::vector<std::string> out;
  each_hex_field(body, 32, [&](std::string_view text) { out.emplace_back(text); });
  return out;
}

}  // namespace fairlead::ledger
