#include "daemon/intake/codes.h"

#include <fmt/format.h>

namespace fairlead::intake {
namespace {

constexpr const char* kNewCode =
    "delete enrolment.code in the truck's data folder and start the truck again: it shows a new "
    "one";

}  // namespace

Status Codes::check(const record::DeviceLine& line, const std::string& typed, int64_t now_us) {
  const auto code = record::read_code(typed);
  if (!code) return std::unexpected(code.error());
  {
    const std::lock_guard lock(mutex_);
    const auto it = wrong_.find(line.binding);
    if (it != wrong_.end() && it->second >= kMostTries) {
      return fail(Code::kDenied,
                  fmt::format("code: {} wrong tries, this code is dead; {}", kMostTries, kNewCode));
    }
  }
  if (now_us > line.until_us) {
    return fail(Code::kDenied, fmt::format("code: has expired; {}", kNewCode));
  }
  if (record::bind_code(*code, line) == line.binding) return {};
  const std::lock_guard lock(mutex_);
  if (wrong_.size() >= kMostLines) wrong_.erase(wrong_.begin());
  const int left = kMostTries - ++wrong_[line.binding];
  return fail(
      Code::kDenied,
      fmt::format("code: is not the one of this device line ({} tries left); read it in the "
                  "cab again, and take device.pub from the same truck",
                  left));
}

}  // namespace fairlead::intake
