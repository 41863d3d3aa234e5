#include "clients/verify/policy.h"

#include <algorithm>
#include <charconv>
#include <optional>

#include "daemon/record/roster.h"

namespace fairlead::verifier {
namespace {

using record::NoteKeyType;
using record::VerifierKey;

constexpr std::string_view kTitle = "fairlead policy v1";
constexpr size_t kMostCountersigners = 15;  // With the log's own, the 16 lines a note may have.

Status add_countersigner(Policy& policy, std::string_view text) {
  auto key = record::parse_verifier_key(text);
  if (!key) return std::unexpected(key.error());
  if (key->type != NoteKeyType::kCosignature) {
    return fail(Code::kBadInput, "countersigner " + key->name +
                                     " is not a cosignature key; ask them for the one of type 4");
  }
  if (policy.countersigners.size() == kMostCountersigners) {
    return fail(Code::kBadInput, "more than 15 countersigners");
  }
  policy.countersigners.push_back(std::move(*key));
  return {};
}

Status set_log(Policy& policy, std::string_view text) {
  auto key = record::parse_verifier_key(text);
  if (!key) return std::unexpected(key.error());
  if (key->type != NoteKeyType::kEd25519) {
    return fail(Code::kBadInput, "log key " + key->name + " is not an Ed25519 note key");
  }
  if (!policy.log.name.empty()) return fail(Code::kBadInput, "log is named twice");
  policy.log = std::move(*key);
  return {};
}

Status set_threshold(Policy& policy, std::string_view text) {
  const auto [end, error] =
      std::from_chars(text.data(), text.data() + text.size(), policy.threshold);
  if (error != std::errc() || end != text.data() + text.size() || policy.threshold == 0) {
    return fail(Code::kBadInput, "threshold is not a number from 1");
  }
  return {};
}

Status parse_line(Policy& policy, std::string_view line) {
  const size_t space = line.find(' ');
  const std::string_view word = line.substr(0, space);
  const std::string_view rest =
      space == std::string_view::npos ? std::string_view{} : line.substr(space + 1);
  if (word == "log") return set_log(policy, rest);
  if (word == "countersigner") return add_countersigner(policy, rest);
  if (word == "threshold") return set_threshold(policy, rest);
  if (word == "officers" && rest == "required") {
    policy.officers_required = true;
    return {};
  }
  if (word == "roster") {
    auto hash = array_of_hex<32>(rest, "roster");
    if (!hash) return std::unexpected(hash.error());
    policy.rosters.push_back(*hash);
    return {};
  }
  return fail(Code::kBadInput,
              "unknown word; a line begins with log, roster, countersigner or threshold, or is "
              "\"officers required\"");
}

Status check_whole(const Policy& policy) {
  if (policy.log.name.empty()) return fail(Code::kBadInput, "policy: names no log");
  if (policy.rosters.empty()) return fail(Code::kBadInput, "policy: names no roster");
  for (size_t i = 0; i < policy.countersigners.size(); ++i) {
    const VerifierKey& key = policy.countersigners[i];
    if (key.key == policy.log.key) {
      return fail(Code::kBadInput, "policy: the log's own key cannot countersign");
    }
    for (size_t j = 0; j < i; ++j) {
      if (policy.countersigners[j].key == key.key) {
        return fail(Code::kBadInput, "policy: countersigner " + key.name + " is named twice");
      }
    }
  }
  if (policy.threshold > std::max<size_t>(policy.countersigners.size(), 1)) {
    return fail(Code::kBadInput, "policy: threshold is above the number of countersigners");
  }
  return {};
}

}  // namespace

Result<Policy> parse_policy(std::string_view text) {
  Policy policy;
  bool titled = false;
  for (size_t number = 1; !text.empty(); ++number) {
    const size_t end = text.find('\n');
    const std::string_view line = text.substr(0, end);
    text.remove_prefix(end == std::string_view::npos ? text.size() : end + 1);
    if (line.empty() || line.front() == '#') continue;
    if (!titled) {
      if (line != kTitle) {
        return fail(Code::kBadInput, "policy: line " + std::to_string(number) +
                                         " is not \"fairlead policy v1\"; make the file with "
                                         "fairlead-verify pin");
      }
      titled = true;
      continue;
    }
    if (auto ok = parse_line(policy, line); !ok) {
      return fail_at("policy: line " + std::to_string(number) + ": ", ok.error());
    }
  }
  if (auto ok = check_whole(policy); !ok) return std::unexpected(ok.error());
  return policy;
}

std::string format_policy(const Policy& policy) {
  std::string out(kTitle);
  out += "\nlog " + record::format_verifier_key(policy.log) + "\n";
  for (const Hash& roster : policy.rosters) out += "roster " + hex_of(roster) + "\n";
  for (const VerifierKey& key : policy.countersigners) {
    out += "countersigner " + record::format_verifier_key(key) + "\n";
  }
  if (policy.officers_required) out += "officers required\n";
  if (policy.threshold != 1) out += "threshold " + std::to_string(policy.threshold) + "\n";
  return out;
}

Result<Policy> pin(const std::vector<std::string_view>& roster_notes, std::string_view log_key,
                   const std::vector<std::string>& countersigner_keys, size_t threshold) {
  Policy policy;
  if (auto ok = set_log(policy, log_key); !ok) return fail_at("--log: ", ok.error());
  std::optional<record::Roster> before;
  for (const std::string_view note : roster_notes) {
    auto roster = record::open_roster(note);
    if (!roster) return std::unexpected(roster.error());
    if (policy.log != roster->log) {
      return fail(Code::kBadInput, "--log: the roster names another log key, " +
                                       record::format_verifier_key(roster->log));
    }
    if (before) {
      if (auto ok = record::check_succession(*before, *roster); !ok)
        return fail_at("--roster: ", ok.error());
    } else {
      policy.officers_required = !roster->officers.empty();
    }
    policy.rosters.push_back(record::roster_fingerprint(note));
    before = std::move(*roster);
  }
  for (const std::string& text : countersigner_keys) {
    if (auto ok = add_countersigner(policy, text); !ok) {
      return fail_at("--countersigner: ", ok.error());
    }
  }
  policy.threshold = threshold;
  if (auto ok = check_whole(policy); !ok) return std::unexpected(ok.error());
  return policy;
}

}  // namespace fairlead::verifier
