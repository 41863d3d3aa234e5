// The roster: who may sign for a base. A note signed by the offline root key; leaf 0 of the log.
//
//   fairlead roster v1
//   base NAME
//   root VKEY
//   log VKEY                 name = origin of the generation it signs
//   admin DEVICE_ID VKEY     one or more; writes every other entry of the base
//   service DEVICE_ID VKEY   none or more; writes FINDING, HEAD_COSIGNED, REFUSED
//   officer VKEY             none or more; a person's admin key that writes no entries: where one
//   is
//                            named, every enrolment of a truck carries an officer's signature
// Later rosters of the same root for the same log come as ROSTER entries; a new key then has a new
// device id, and its chain begins with the roster that first names it.
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
  std::vector<VerifierKey> officers;
  bool operator==(const Roster&) const = default;
};

inline constexpr size_t kMaxRosterKeys = 256;

/// Errors: kBadInput for no admin, a key or device id named twice, another kind of key.
[[nodiscard]] Result<std::string> sign_roster(const Roster& roster, const SecretKey& root);
/// What a base asks the holder of the root key to sign: the roster's lines without root, under the
/// title "fairlead roster request v1".
[[nodiscard]] std::string format_roster_request(const Roster& roster);
/// A request, or a roster (whose signature is checked); the root is zero for a request. Errors as
/// open_roster.
[[nodiscard]] Result<Roster> read_roster_request(std::string_view bytes);
/// Reads the note and checks it against the root key it names; that the root is the right one shows
/// in roster_fingerprint. Errors: kBadInput naming the line; kCorrupt for a bad signature.
[[nodiscard]] Result<Roster> open_roster(std::string_view note_bytes);
/// May `next` come after `before`? Errors: kConflict when it is of another base, log or root, or
/// gives a device id another key.
[[nodiscard]] Status check_succession(const Roster& before, const Roster& next);
/// A key that one of the rosters so far named and the newest of them does not is given up for good:
/// otherwise whoever holds an old roster could put it in force again. `before`: oldest first.
/// Errors: kConflict naming the key.
[[nodiscard]] Status check_not_given_up(const std::vector<const Roster*>& before,
                                        const Roster& next);
/// SHA-256 of the note's bytes as they stand in leaf 0's body.
[[nodiscard]] Hash roster_fingerprint(std::string_view note_bytes);

}  // namespace fairlead::record
