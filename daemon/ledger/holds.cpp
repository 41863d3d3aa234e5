#include "daemon/ledger/holds.h"

#include <fmt/format.h>

namespace fairlead::ledger {
namespace {

// "A. Okafor" and "a okafor" are one name. Letters beyond ASCII count as they stand.
std::string plain_name(std::string_view name) {
  std::string out;
  for (const char c : name) {
    const auto byte = static_cast<unsigned char>(c);
    const bool letter = (byte >= 'a' && byte <= 'z') || (byte >= '0' && byte <= '9') || byte >= 128;
    if (byte >= 'A' && byte <= 'Z') out += static_cast<char>(byte - 'A' + 'a');
    if (letter) out += c;
  }
  return out;
}

}  // namespace

Status check_approvals(const v1::HoldEndBody& end) {
  std::set<std::string> names;
  for (const std::string& given : end.approved_by()) {
    const std::string name = plain_name(given);
    if (name.empty()) return fail(Code::kBadInput, "approved_by: an empty name; give two people");
    if (!names.insert(name).second) {
      return fail(Code::kBadInput,
                  fmt::format("approved_by: '{}' is named twice; two different people must approve "
                              "the end of a hold",
                              given));
    }
  }
  if (names.size() >= 2) return {};
  return fail(Code::kBadInput,
              "approved_by: one approval is not enough; two different people must approve the end "
              "of a hold");
}

Status Holds::take(Kind kind, std::string_view body, uint64_t leaf) {
  const int size = static_cast<int>(body.size());
  const auto unreadable = [&] {
    return fail(Code::kCorrupt,
                fmt::format("leaf {}: the hold cannot be read; nothing may be erased", leaf));
  };
  if (kind == Kind::kHold) {
    v1::HoldBody hold;
    if (!hold.ParseFromArray(body.data(), size)) return unreadable();
    auto [at, fresh] = active_.try_emplace(hold.claim_id());
    if (fresh) at->second = {hold.claim_id(), leaf, {}, hold.words()};
    for (const std::string& job : hold.job_id()) {
      const auto id = array_of<16>(job, "job_id");
      if (!id) return unreadable();
      at->second.jobs.insert(*id);
    }
  } else if (kind == Kind::kHoldEnd) {
    v1::HoldEndBody end;
    if (!end.ParseFromArray(body.data(), size)) return unreadable();
    if (check_approvals(end)) active_.erase(end.claim_id());
  }
  return {};
}

}  // namespace fairlead::ledger
