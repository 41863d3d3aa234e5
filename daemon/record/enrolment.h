// How a device becomes known: the line its folder holds for the base, the one-time code read in its
// cab, what an officer signs, and what both keys sign when one follows the other.
//
// The code is 8 characters of Crockford's base 32 (no I, L, O, U), two groups of four; typed in
// lower case, with I or L for 1 and O for 0, it is read the same. It is bound to device id and key:
//   binding = SHA-256("fairlead/enrol-code/v1\n" || Argon2id(code, device_id) || device_id ||
//             public_key || until_us)
// so a line with another key cannot carry the same code without knowing it, and guessing one costs
// 64 MiB and a tenth of a second a try.
// Threads: pure functions. Times: Unix microseconds.
#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "daemon/record/entry.h"
#include "daemon/record/roster.h"

namespace fairlead::record {

/// "7K3M-9QPD", 40 random bits.
[[nodiscard]] std::string make_code();
/// The code as make_code writes it. Errors: kBadInput for another length or a character that is
/// none of the alphabet.
[[nodiscard]] Result<std::string> read_code(std::string_view typed);

/// "fairlead-device-v2 NAME DEVICE_ID KEY BINDING UNTIL", the one line of a truck's device.pub.
struct DeviceLine {
  std::string name;
  Id16 device_id{};
  PublicKey key;
  Hash binding{};
  int64_t until_us = 0;
  bool operator==(const DeviceLine&) const = default;
};
[[nodiscard]] std::string format_device_line(const DeviceLine& line);
/// Errors: kBadInput naming the field.
[[nodiscard]] Result<DeviceLine> parse_device_line(std::string_view text);

/// `code` as read_code gives it. Slow on purpose.
[[nodiscard]] Hash bind_code(std::string_view code, const DeviceLine& line);

/// What an officer signs: "fairlead/enrol/v1\n" || device_id || public_key || binding.
[[nodiscard]] std::string enrol_statement(const Id16& device_id, const PublicKey& key,
                                          const Hash& binding);
/// True when the named officer of the roster signed the statement.
[[nodiscard]] bool is_officer_signed(const Roster& roster, std::string_view officer,
                                     std::string_view statement, const Signature& signature);

/// What the old and the new key of a device both sign: "fairlead/rotate/v1\n" || device_id ||
/// old key || new key.
[[nodiscard]] std::string rotate_statement(const Id16& device_id, const PublicKey& old_key,
                                           const PublicKey& new_key);

}  // namespace fairlead::record
