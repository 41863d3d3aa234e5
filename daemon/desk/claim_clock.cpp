#include "daemon/desk/claim_clock.h"

#include <algorithm>

#include "daemon/base/time_text.h"

namespace fairlead::desk {
namespace {

constexpr int64_t kDayUs = 86'400'000'000;
constexpr int64_t kAcknowledgeDays = 30, kAnswerDays = 120, kStatusDays = 60;
constexpr int kMostStatuses = 60;  // Ten years; a claim open for longer has other troubles.

int64_t day_of(int64_t time_us) {
  return time_us >= 0 ? time_us / kDayUs : -((-time_us + kDayUs - 1) / kDayUs);
}

std::optional<int64_t> first_of(const std::vector<ClaimMoment>& moments,
                                std::initializer_list<ClaimMoment::Kind> kinds, int64_t after_us) {
  for (const ClaimMoment& moment : moments) {
    if (moment.at_us > after_us &&
        std::find(kinds.begin(), kinds.end(), moment.kind) != kinds.end())
      return moment.at_us;
  }
  return std::nullopt;
}

}  // namespace

bool DueDate::overdue(int64_t now_us) const { return !done_us && day_of(now_us) > day_of(due_us); }

int32_t DueDate::days_left(int64_t now_us) const {
  return done_us ? 0 : static_cast<int32_t>(day_of(due_us) - day_of(now_us));
}

bool is_clock(const std::string& clock) { return clock == "none" || clock == "49cfr370"; }

std::vector<DueDate> due_dates(const std::string& clock, int64_t received_us,
                               const std::vector<ClaimMoment>& moments, int64_t now_us) {
  if (clock != "49cfr370") return {};
  using Kind = ClaimMoment::Kind;
  const int64_t start = day_of(received_us) * kDayUs;
  const auto in_days = [&](int64_t days) { return start + days * kDayUs; };
  constexpr int64_t kEver = INT64_MIN;
  const auto answered = first_of(moments, {Kind::kAnswer}, kEver);
  std::vector<DueDate> out;
  // An answer acknowledges too (370.5).
  out.push_back({"acknowledge the claim in writing", "49 CFR 370.5", in_days(kAcknowledgeDays),
                 first_of(moments, {Kind::kAcknowledged, Kind::kStatus, Kind::kAnswer}, kEver)});
  out.push_back(
      {"pay, decline or make a firm offer", "49 CFR 370.9(a)", in_days(kAnswerDays), answered});
  // Each word on how it stands counts for the span it was given in; one at 120 days, one every 60.
  for (int i = 0; i < kMostStatuses; ++i) {
    const int64_t due = in_days(kAnswerDays + i * kStatusDays);
    if (answered && *answered < due + kDayUs) break;
    DueDate status{"tell the claimant how the claim stands", "49 CFR 370.9(b)", due, std::nullopt};
    // Two months before its day, the day before it not counted, to the end of its day.
    const int64_t from = due - kStatusDays * kDayUs + (i == 0 ? 0 : kDayUs);
    for (const ClaimMoment& moment : moments) {
      if (moment.kind == Kind::kStatus && moment.at_us >= from && moment.at_us < due + kDayUs &&
          !status.done_us)
        status.done_us = moment.at_us;
    }
    if (answered && !status.done_us) continue;  // Nothing is pending any more.
    const bool next = due + kDayUs > now_us;
    // Before its 120 days no word on how it stands is asked for; it is listed once it comes near.
    if (next && due - now_us > kStatusDays * kDayUs && !status.done_us) break;
    out.push_back(std::move(status));
    if (next) break;
  }
  std::ranges::stable_sort(out, {}, &DueDate::due_us);
  return out;
}

std::string day_text(int64_t time_us) { return format_time_us(time_us).substr(0, 10); }

}  // namespace fairlead::desk
