#include "daemon/base/time_text.h"

#include <fmt/format.h>

#include <chrono>
#include <optional>

#include "daemon/base/units.h"

namespace fairlead {
namespace {

constexpr int64_t kSecondUs = 1'000'000;

// Reads exactly `count` digits at `pos` and moves past them.
std::optional<int> digits(std::string_view text, size_t& pos, size_t count) {
  if (pos + count > text.size()) return std::nullopt;
  int value = 0;
  for (size_t i = 0; i < count; ++i) {
    const char c = text[pos + i];
    if (c < '0' || c > '9') return std::nullopt;
    value = value * 10 + (c - '0');
  }
  pos += count;
  return value;
}

bool take(std::string_view text, size_t& pos, char wanted) {
  if (pos >= text.size() || text[pos] != wanted) return false;
  ++pos;
  return true;
}

std::optional<int64_t> date_days(std::string_view text, size_t& pos) {
  const auto year = digits(text, pos, 4);
  if (!year || !take(text, pos, '-')) return std::nullopt;
  const auto month = digits(text, pos, 2);
  if (!month || !take(text, pos, '-')) return std::nullopt;
  const auto day = digits(text, pos, 2);
  if (!day) return std::nullopt;
  const std::chrono::year_month_day ymd{std::chrono::year{*year},
                                        std::chrono::month{static_cast<unsigned>(*month)},
                                        std::chrono::day{static_cast<unsigned>(*day)}};
  if (!ymd.ok() || *year < 1970) return std::nullopt;
  return std::chrono::sys_days{ymd}.time_since_epoch().count();
}

// Decimals of a second as microseconds; nullopt when there are none or more than six.
std::optional<int64_t> fraction_us(std::string_view text, size_t& pos) {
  int64_t value = 0;
  size_t count = 0;
  while (pos < text.size() && text[pos] >= '0' && text[pos] <= '9') {
    if (++count > 6) return std::nullopt;
    value = value * 10 + (text[pos++] - '0');
  }
  if (count == 0) return std::nullopt;
  for (; count < 6; ++count) value *= 10;
  return value;
}

// Zone as seconds east of UTC.
std::optional<int64_t> zone_s(std::string_view text, size_t& pos) {
  if (take(text, pos, 'Z') || take(text, pos, 'z')) return 0;
  const bool west = pos < text.size() && text[pos] == '-';
  if (!west && (pos >= text.size() || text[pos] != '+')) return std::nullopt;
  ++pos;
  const auto hours = digits(text, pos, 2);
  if (!hours || *hours > 23 || !take(text, pos, ':')) return std::nullopt;
  const auto minutes = digits(text, pos, 2);
  if (!minutes || *minutes > 59) return std::nullopt;
  const int64_t seconds = *hours * 3600LL + *minutes * 60LL;
  return west ? -seconds : seconds;
}

std::optional<int64_t> time_us(std::string_view text) {
  size_t pos = 0;
  const auto days = date_days(text, pos);
  if (!days || !(take(text, pos, 'T') || take(text, pos, 't'))) return std::nullopt;
  const auto hour = digits(text, pos, 2);
  if (!hour || *hour > 23 || !take(text, pos, ':')) return std::nullopt;
  const auto minute = digits(text, pos, 2);
  if (!minute || *minute > 59 || !take(text, pos, ':')) return std::nullopt;
  const auto second = digits(text, pos, 2);
  if (!second || *second > 60) return std::nullopt;
  int64_t fraction = 0;
  if (take(text, pos, '.')) {
    const auto read = fraction_us(text, pos);
    if (!read) return std::nullopt;
    fraction = *read;
  }
  const auto zone = zone_s(text, pos);
  if (!zone || pos != text.size()) return std::nullopt;
  const bool leap = *second == 60;
  const int64_t whole_s =
      *days * 86'400 + *hour * 3600LL + *minute * 60LL + (leap ? 59 : *second) - *zone;
  return whole_s * kSecondUs + (leap ? kSecondUs - 1 : fraction);
}

}  // namespace

Result<int64_t> parse_time_us(std::string_view text) {
  const auto value = time_us(text);
  if (!value || *value < 0) {
    return fail(
        Code::kBadInput,
        fmt::format("'{}' is not an RFC 3339 time; write it as 2026-03-02T10:05:00.000000Z, "
                    "with at most six decimals",
                    text.substr(0, 40)));
  }
  return *value;
}

std::string format_time_us(int64_t value_us) {
  using std::chrono::floor;
  const std::chrono::sys_time<std::chrono::microseconds> time{std::chrono::microseconds{value_us}};
  const auto day = floor<std::chrono::days>(time);
  const std::chrono::year_month_day ymd{day};
  const int64_t in_day = (time - day).count();
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:06}Z", static_cast<int>(ymd.year()),
                     static_cast<unsigned>(ymd.month()), static_cast<unsigned>(ymd.day()),
                     in_day / 3'600'000'000, in_day / 60'000'000 % 60, in_day / kSecondUs % 60,
                     in_day % kSecondUs);
}

Result<int64_t> parse_date_us(std::string_view text) {
  size_t pos = 0;
  const auto days = date_days(text, pos);
  if (!days || pos != text.size()) {
    return fail(Code::kBadInput,
                fmt::format("'{}' is not a date; write it as 2026-12-31", text.substr(0, 40)));
  }
  return *days * 86'400 * kSecondUs;
}

std::string span_words(int64_t span_us) {
  constexpr int64_t kSecond = 1'000'000, kMinute = 60 * kSecond, kHour = 60 * kMinute;
  if (span_us >= 2 * kHour && span_us % kHour == 0) return fmt::format("{} h", span_us / kHour);
  if (span_us >= 2 * kMinute && span_us % kMinute == 0)
    return fmt::format("{} min", span_us / kMinute);
  return format_in_unit(span_us, Rational{kSecond, 1}, 6, Toward::kNearest) + " s";
}

}  // namespace fairlead
