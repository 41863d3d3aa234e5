// The roster: who may sign for a base. A note signed by the offline root key; leaf 0 of the log.
//
//   fairlead roster v1
//   base NAME
//   root VKEY
//   log VKEY                 name = origin of the generation it signs
//   admin DEVICE_ID VKEY     one or more; officers, who enrol devices and issue files
//   service DEVICE_ID VKEY   none or more; writes FINDING, HEAD_COSIGNED, REFUSED
// DEVICE_ID is the 32 hex characters that stand as device_id in entries of that key's chain. Trucks
// are not named here: their keys come by ENROL entries.
// Threads: pure functions.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "daemon/record/entry.h"
#include "daemon/record/note.h"

namespace fairlead::record {

struct RosterKey {
  Id16 device_id{};
  VerifierKey key;
  bool operator==(const RosterKey&) const = default;
};

struct Roster {
  std::string base_name;
  VerifierKey root;
  VerifierKey log;
  std::vector<RosterKey> admins;
  std::vector<RosterKey> services;
  bool operator==(const Roster&) const = default;
};

inline constexpr size_t kMaxRosterKeys = 256;

/// Errors: kBadInput for no admin, a key or device id named twice, another kind of key.
[[nodiscard]] Result<std::string> sign_roster(const Roster& roster, const SecretKey& root);
/// Reads the note and checks it against the root key it names; that the root is the right one shows
/// in roster_fingerprint. Errors: kBadInput naming the line; kCorrupt for a bad signature.
[[nodiscard]] Result<Roster> open_roster(std::string_view note_bytes);
/// SHA-256 of the note's bytes as they stand in leaf 0's body.
[[nodiscard]] Hash roster_fingerprint(std::string_view note_bytes);

}  // namespace fairlead::record
