#include "daemon/record/roster.h"

#include <map>
#include <set>

#include "daemon/record/note_form.h"

namespace fairlead::record {
namespace {

constexpr std::string_view kTitle = "fairlead roster v1";
constexpr std::string_view kRequestTitle = "fairlead roster request v1";

std::unexpected<Error> bad(std::string_view words) {
  return fail(Code::kBadInput, "roster: " + std::string(words));
}

/// Takes "WORD rest" apart; empty rest when there is no space.
std::pair<std::string_view, std::string_view> split_word(std::string_view line) {
  const size_t space = line.find(' ');
  if (space == std::string_view::npos) return {line, {}};
  return {line.substr(0, space), line.substr(space + 1)};
}

Status check_roster(const Roster& roster) {
  if (!is_note_key_name(roster.base_name)) return bad("base name is empty or has a space or '+'");
  if (roster.admins.empty()) return bad("names no admin key; at least one officer must be named");
  if (roster.admins.size() + roster.services.size() + roster.officers.size() > kMaxRosterKeys) {
    return bad("names more than 256 keys");
  }
  if (!roster.log.name.starts_with(roster.base_name + "/fairlead/g")) {
    return bad("log key's name is not an origin of base " + ascii_of(roster.base_name));
  }
  std::set<PublicKey> keys{roster.root.key};
  std::set<Id16> devices;
  if (!keys.insert(roster.log.key).second) return bad("root and log share a key");
  for (const auto* group : {&roster.admins, &roster.services}) {
    for (const RosterKey& entry : *group) {
      if (!keys.insert(entry.key.key).second) return bad("a key is named twice: " + entry.key.name);
      if (is_zero(entry.device_id) || !devices.insert(entry.device_id).second) {
        return bad("device id " + hex_of(entry.device_id) + " is zero or named twice");
      }
    }
  }
  for (const VerifierKey& officer : roster.officers) {
    if (officer.type != NoteKeyType::kEd25519) return bad(officer.name + " is not an Ed25519 key");
    if (!keys.insert(officer.key).second) return bad("a key is named twice: " + officer.name);
  }
  for (const VerifierKey* key : {&roster.root, &roster.log}) {
    if (key->type != NoteKeyType::kEd25519) return bad(key->name + " is not an Ed25519 note key");
  }
  return {};
}

std::string format_lines(const Roster& roster, std::string_view title) {
  std::string out(title);
  out += "\nbase " + roster.base_name;
  if (title == kTitle) out += "\nroot " + format_verifier_key(roster.root);
  out += "\nlog " + format_verifier_key(roster.log) + "\n";
  for (const RosterKey& entry : roster.admins) {
    out += "admin " + hex_of(entry.device_id) + " " + format_verifier_key(entry.key) + "\n";
  }
  for (const RosterKey& entry : roster.services) {
    out += "service " + hex_of(entry.device_id) + " " + format_verifier_key(entry.key) + "\n";
  }
  for (const VerifierKey& officer : roster.officers) {
    out += "officer " + format_verifier_key(officer) + "\n";
  }
  return out;
}

Result<RosterKey> parse_roster_key(std::string_view text) {
  const auto [id_text, key_text] = split_word(text);
  auto id = array_of_hex<16>(id_text, "device id");
  if (!id) return std::unexpected(id.error());
  auto key = parse_verifier_key(key_text);
  if (!key) return std::unexpected(key.error());
  return RosterKey{*id, std::move(*key)};
}

Status parse_line(std::string_view line, Roster& roster) {
  const auto [word, rest] = split_word(line);
  if (word == "base") {
    roster.base_name = rest;
    return {};
  }
  if (word == "root" || word == "log") {
    auto key = parse_verifier_key(rest);
    if (!key) return std::unexpected(key.error());
    (word == "root" ? roster.root : roster.log) = std::move(*key);
    return {};
  }
  if (word == "admin" || word == "service") {
    auto key = parse_roster_key(rest);
    if (!key) return std::unexpected(key.error());
    (word == "admin" ? roster.admins : roster.services).push_back(std::move(*key));
    return {};
  }
  if (word == "officer") {
    auto key = parse_verifier_key(rest);
    if (!key) return std::unexpected(key.error());
    roster.officers.push_back(std::move(*key));
    return {};
  }
  return fail(Code::kBadInput,
              "unknown word \"" + ascii_of(word) +
                  "\"; a line begins with base, root, log, admin, service or officer");
}

std::string format_roster(const Roster& roster) { return format_lines(roster, kTitle); }

Result<Roster> parse_lines(std::string_view text, std::string_view title) {
  Roster roster;
  std::string_view rest = text;
  for (size_t number = 1; !rest.empty(); ++number) {
    const size_t end = rest.find('\n');
    const std::string_view line = rest.substr(0, end);
    rest.remove_prefix(end == std::string_view::npos ? rest.size() : end + 1);
    if (number == 1) {
      if (line != title) return bad("line 1 is not \"" + std::string(title) + "\"");
      continue;
    }
    if (auto ok = parse_line(line, roster); !ok) {
      return bad("line " + std::to_string(number) + ": " + ok.error().message);
    }
  }
  return roster;
}

Result<Roster> parse_roster(std::string_view text) {
  auto roster = parse_lines(text, kTitle);
  if (!roster) return roster;
  if (auto ok = check_roster(*roster); !ok) return std::unexpected(ok.error());
  // One spelling only, so that the fingerprint belongs to one meaning.
  if (format_roster(*roster) != text) {
    return bad(
        "lines are not in the order base, root, log, admin, service, officer, each of the first "
        "once");
  }
  return roster;
}

}  // namespace

Result<std::string> sign_roster(const Roster& roster, const SecretKey& root) {
  if (auto ok = check_roster(roster); !ok) return std::unexpected(ok.error());
  return sign_note(format_roster(roster), roster.root, root);
}

Result<Roster> open_roster(std::string_view note_bytes) {
  auto note = parse_note(note_bytes);
  if (!note) return std::unexpected(note.error());
  auto roster = parse_roster(note->text);
  if (!roster) return roster;
  if (!verify_note(*note, roster->root)) {
    return fail(Code::kCorrupt, "roster: not signed by its root key " + roster->root.name);
  }
  return roster;
}

std::string format_roster_request(const Roster& roster) {
  return format_lines(roster, kRequestTitle);
}

Result<Roster> read_roster_request(std::string_view bytes) {
  if (!bytes.starts_with(kRequestTitle)) return open_roster(bytes);
  auto roster = parse_lines(bytes, kRequestTitle);
  if (!roster) return roster;
  if (!is_zero(roster->root.key.bytes)) return bad("a request names no root");
  return roster;
}

Status check_succession(const Roster& before, const Roster& next) {
  const auto other = [](const std::string& what) {
    return fail(Code::kConflict, "roster: " + what);
  };
  if (next.base_name != before.base_name) return other("is of base " + ascii_of(next.base_name));
  if (next.root != before.root) return other("is signed by another root key than the one in force");
  if (next.log != before.log) return other("names another log key; that begins a new generation");
  for (const auto group : {&Roster::admins, &Roster::services}) {
    for (const RosterKey& now : next.*group) {
      for (const auto old_group : {&Roster::admins, &Roster::services}) {
        for (const RosterKey& old : before.*old_group) {
          if ((old.device_id == now.device_id) != (old.key.key == now.key.key)) {
            return other(now.key.name +
                         ": a new key needs a new device id, an old key keeps its own");
          }
          if (old.device_id == now.device_id && group != old_group) {
            return other(now.key.name + ": an admin key cannot become a service key, or back");
          }
        }
      }
    }
  }
  return {};
}

Status check_not_given_up(const std::vector<const Roster*>& before, const Roster& next) {
  const auto keys_of = [](const Roster& roster) {
    std::map<PublicKey, std::string> keys;
    for (const auto* group : {&roster.admins, &roster.services}) {
      for (const RosterKey& named : *group) keys[named.key.key] = named.key.name;
    }
    for (const VerifierKey& officer : roster.officers) keys[officer.key] = officer.name;
    return keys;
  };
  if (before.empty()) return {};
  const auto newest = keys_of(*before.back()), wanted = keys_of(next);
  for (const Roster* roster : before) {
    for (const auto& [key, name] : keys_of(*roster)) {
      if (newest.contains(key) || !wanted.contains(key)) continue;
      return fail(Code::kConflict,
                  "roster: names " + name +
                      " again, a key that was given up; make a new key for whoever comes back");
    }
  }
  return {};
}

Hash roster_fingerprint(std::string_view note_bytes) { return sha256(note_bytes); }

}  // namespace fairlead::record
