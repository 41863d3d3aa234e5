#include "daemon/record/enrolment.h"

#include <algorithm>
#include <charconv>
#include <vector>

namespace fairlead::record {
namespace {

// Crockford's base 32: digits, then letters without I, L, O, U.
constexpr std::string_view kAlphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
constexpr size_t kCodeLength = 8, kGroup = 4;
constexpr std::string_view kLineWord = "fairlead-device-v2";
constexpr size_t kLongestName = 64;

char plain(char c) {
  if (c >= 'a' && c <= 'z') c = static_cast<char>(c - 'a' + 'A');
  if (c == 'I' || c == 'L') return '1';
  return c == 'O' ? '0' : c;
}

std::vector<std::string_view> words_of(std::string_view text) {
  std::vector<std::string_view> out;
  while (true) {
    const size_t from = text.find_first_not_of(" \t\r\n");
    if (from == std::string_view::npos) return out;
    text.remove_prefix(from);
    const size_t end = std::min(text.find_first_of(" \t\r\n"), text.size());
    out.push_back(text.substr(0, end));
    text.remove_prefix(end);
  }
}

}  // namespace

std::string make_code() {
  std::string out;
  for (const uint8_t byte : random_array<kCodeLength>()) {
    if (out.size() == kGroup) out += '-';
    out += kAlphabet[byte % kAlphabet.size()];
  }
  return out;
}

Result<std::string> read_code(std::string_view typed) {
  std::string out;
  for (const char raw : typed) {
    if (raw == '-' || raw == ' ') continue;
    const char c = plain(raw);
    if (kAlphabet.find(c) == std::string_view::npos || out.size() > kCodeLength) {
      return fail(Code::kBadInput,
                  "code: is not 8 letters and digits like 7K3M-9QPD; read it again in the cab");
    }
    if (out.size() == kGroup) out += '-';
    out += c;
  }
  if (out.size() != kCodeLength + 1) {
    return fail(Code::kBadInput,
                "code: is not 8 letters and digits like 7K3M-9QPD; read it again in the cab");
  }
  return out;
}

std::string format_device_line(const DeviceLine& line) {
  std::string out(kLineWord);
  out += " " + line.name + " " + hex_of(line.device_id) + " ";
  out += base64_of(view_of(line.key.bytes)) + " " + hex_of(line.binding) + " ";
  return out + std::to_string(line.until_us) + "\n";
}

Result<DeviceLine> parse_device_line(std::string_view text) {
  const auto words = words_of(text);
  if (words.size() != 6 || words[0] != kLineWord) {
    return fail(Code::kBadInput,
                "this is no device line; give the device.pub file of the truck's data folder");
  }
  const auto id = array_of_hex<16>(words[2], "device id");
  if (!id) return std::unexpected(id.error());
  const auto key_bytes = bytes_of_base64(words[3], "device key");
  if (!key_bytes) return std::unexpected(key_bytes.error());
  const auto key = array_of<32>(*key_bytes, "device key");
  if (!key) return std::unexpected(key.error());
  const auto binding = array_of_hex<32>(words[4], "code binding");
  if (!binding) return std::unexpected(binding.error());
  DeviceLine line{std::string(words[1]), *id, PublicKey{*key}, *binding, 0};
  const char* end = words[5].data() + words[5].size();
  if (const auto [at, error] = std::from_chars(words[5].data(), end, line.until_us);
      error != std::errc() || at != end || line.until_us < 0) {
    return fail(Code::kBadInput, "device line: its last word is no time in microseconds");
  }
  if (line.name.size() > kLongestName) {
    return fail(Code::kBadInput, "device line: the name is longer than 64 characters");
  }
  return line;
}

Hash bind_code(std::string_view code, const DeviceLine& line) {
  std::string until;
  append_be(until, static_cast<uint64_t>(line.until_us));
  const Hash stretched = stretch(code, line.device_id);
  return sha256({"fairlead/enrol-code/v1\n", view_of(stretched), view_of(line.device_id),
                 view_of(line.key.bytes), until});
}

std::string enrol_statement(const Id16& device_id, const PublicKey& key, const Hash& binding) {
  return "fairlead/enrol/v1\n" + string_of(device_id) + string_of(key.bytes) + string_of(binding);
}

bool is_officer_signed(const Roster& roster, std::string_view officer, std::string_view statement,
                       const Signature& signature) {
  return std::ranges::any_of(roster.officers, [&](const VerifierKey& key) {
    return key.name == officer && verify(key.key, statement, signature);
  });
}

std::string rotate_statement(const Id16& device_id, const PublicKey& old_key,
                             const PublicKey& new_key) {
  return "fairlead/rotate/v1\n" + string_of(device_id) + string_of(old_key.bytes) +
         string_of(new_key.bytes);
}

}  // namespace fairlead::record
