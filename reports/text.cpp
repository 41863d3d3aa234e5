#include "reports/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <cmath>
#include <sstream>

#include "daemon/record/checkpoint.h"

namespace fairlead::reports {
namespace {

struct Decoded {
  char32_t value = 0xFFFD;
  size_t length = 1;
  bool good = false;
};

Decoded decode(std::string_view text, size_t at) {
  const auto byte = [&](size_t i) { return static_cast<unsigned char>(text[i]); };
  const unsigned char first = byte(at);
  if (first < 0x80) return {first, 1, true};
  const size_t length = first >= 0xF0 ? 4 : first >= 0xE0 ? 3 : first >= 0xC2 ? 2 : 0;
  if (length == 0 || first > 0xF4 || at + length > text.size()) return {};
  char32_t value = first & (0x7Fu >> length);
  for (size_t i = 1; i < length; ++i) {
    if ((byte(at + i) & 0xC0) != 0x80) return {};
    value = (value << 6) | (byte(at + i) & 0x3Fu);
  }
  const char32_t least = length == 2 ? 0x80 : length == 3 ? 0x800 : 0x10000;
  if (value < least || value > 0x10FFFF || (value >= 0xD800 && value <= 0xDFFF)) return {};
  return {value, length, true};
}

// Characters that change what a reader sees without being seen themselves. The joiners U+200C and
// U+200D stay: several scripts and emoji need them and they cannot reorder text.
bool is_invisible(char32_t c) {
  return c < 0x20 || (c >= 0x7F && c <= 0x9F) || c == 0xAD || c == 0x61C || c == 0x180E ||
         c == 0x200B || c == 0x200E || c == 0x200F || (c >= 0x2028 && c <= 0x202E) ||
         (c >= 0x2060 && c <= 0x206F) || c == 0xFEFF || (c >= 0xFFF9 && c <= 0xFFFB) ||
         (c >= 0xE0000 && c <= 0xE007F) || (c & 0xFFFE) == 0xFFFE;
}

bool is_combining(char32_t c) {
  return (c >= 0x300 && c <= 0x36F) || (c >= 0x483 && c <= 0x489) || (c >= 0x1AB0 && c <= 0x1AFF) ||
         (c >= 0x1DC0 && c <= 0x1DFF) || (c >= 0x20D0 && c <= 0x20FF) ||
         (c >= 0xFE20 && c <= 0xFE2F);
}

struct Civil {
  int64_t year;
  unsigned month, day;
};

// Days since 1970-01-01 to a calendar date (Hinnant, "chrono-compatible low-level date
// algorithms").
Civil civil_of(int64_t days) {
  days += 719468;
  const int64_t era = (days >= 0 ? days : days - 146096) / 146097;
  const auto doe = static_cast<unsigned>(days - era * 146097);
  const unsigned yoe = (doe - doe / 1460 + doe / 36524 - doe / 146096) / 365;
  const unsigned doy = doe - (365 * yoe + yoe / 4 - yoe / 100);
  const unsigned mp = (5 * doy + 2) / 153;
  const unsigned month = mp < 10 ? mp + 3 : mp - 9;
  return {static_cast<int64_t>(yoe) + era * 400 + (month <= 2), month,
          doy - (153 * mp + 2) / 5 + 1};
}

constexpr int64_t kSecond = 1'000'000;
constexpr int64_t kDay = 86'400 * kSecond;

int64_t floor_div(int64_t a, int64_t b) { return a / b - (a % b != 0 && (a % b < 0) != (b < 0)); }

std::string made_harmless(std::string_view text, bool keep_lines) {
  std::string out;
  int marks = 0;
  for (size_t at = 0; at < text.size();) {
    const Decoded c = decode(text, at);
    marks = c.good && is_combining(c.value) ? marks + 1 : 0;
    if (!c.good) {
      out += "\xEF\xBF\xBD";
    } else if (c.value == '\n' && keep_lines) {
      out += '\n';
    } else if (c.value == '\n' || c.value == '\t') {
      out += ' ';
    } else if (c.value == '\r') {
      // A line end is shown by its \n; a lone \r says nothing a reader needs.
    } else if (is_invisible(c.value) || marks > 3) {
      out += fmt::format("[U+{:04X}]", static_cast<uint32_t>(c.value));
    } else {
      out.append(text, at, c.length);
    }
    at += c.length;
  }
  return out;
}

// Places where a line may end in a run without spaces that is longer than any word, hash or
// address: the layout engine runs such a run over the margin.
std::string with_breaks(const std::string& text) {
  constexpr size_t kLongestRun = 80, kPiece = 40;
  std::string out;
  for (size_t at = 0; at < text.size();) {
    const size_t end = std::min(text.find_first_of(" \n", at), text.size());
    std::string_view run = std::string_view(text).substr(at, end - at);
    if (!is_longer(std::string(run), kLongestRun)) {
      out += run;
    } else {
      size_t count = 0;
      for (const char c : run) {
        if ((c & 0xC0) != 0x80 && count++ % kPiece == 0 && count > 1) out += "\xE2\x80\x8B";
        out += c;
      }
    }
    if (end < text.size()) out += text[end];
    at = end + 1;
  }
  return out;
}

}  // namespace

std::string shown(std::string_view text) {
  size_t count = 0, end = 0;
  for (size_t at = 0; at < text.size(); at += decode(text, at).length) {
    if (count == kMostShown) end = at;
    ++count;
  }
  if (count <= kMostShown) return with_breaks(made_harmless(text, false));
  return with_breaks(made_harmless(text.substr(0, end), false)) + " ... [" +
         grouped(count - kMostShown) + " more characters on record]";
}

std::string shown_whole(std::string_view text) { return with_breaks(made_harmless(text, true)); }

bool is_longer(const std::string& text, size_t limit) {
  size_t count = 0;
  for (const char c : text) count += (c & 0xC0) != 0x80;
  return count > limit;
}

std::string shortened(const std::string& text, size_t limit) {
  if (!is_longer(text, limit)) return text;
  size_t count = 0;
  size_t end = 0;
  while (end < text.size() && count < limit) {
    ++end;
    while (end < text.size() && (text[end] & 0xC0) == 0x80) ++end;
    ++count;
  }
  const size_t space = text.rfind(' ', end);
  if (space != std::string::npos && space > end / 2) end = space;
  return text.substr(0, end) + " ...";
}

std::string brief(const std::string& text, size_t limit, bool& cut) {
  cut = cut || is_longer(text, limit);
  return shortened(text, limit);
}

std::string grouped(uint64_t number) {
  std::string text = std::to_string(number);
  for (size_t at = text.size(); at > 3; at -= 3) text.insert(at - 3, ",");
  return text;
}

std::string fixed(double value, int places) {
  std::string text = fmt::format("{:.{}f}", value, places);
  if (text.find_first_not_of("-0.") == std::string::npos && text[0] == '-') text.erase(0, 1);
  return text;
}

std::vector<std::string> fingerprint_groups(std::string_view hex) {
  const auto root = array_of_hex<32>(hex, "root");
  std::vector<std::string> groups;
  if (!root) return groups;
  std::istringstream words(record::fingerprint_of(*root));
  for (std::string group; words >> group;) groups.push_back(group);
  return groups;
}

std::string count_word(uint64_t number) {
  static constexpr const char* kWords[] = {"no",   "one",    "two",   "three", "four",
                                           "five", "six",    "seven", "eight", "nine",
                                           "ten",  "eleven", "twelve"};
  return number < std::size(kWords) ? kWords[number] : grouped(number);
}

std::string counted(uint64_t number, const std::string& one, const std::string& many) {
  return grouped(number) + " " + (number == 1 ? one : many);
}

std::string listed(const std::vector<std::string>& words) {
  std::string out;
  for (size_t i = 0; i < words.size(); ++i) {
    if (i > 0) out += i + 1 == words.size() ? " and " : ", ";
    out += words[i];
  }
  return out;
}

LocalTime::LocalTime(int offset_minutes, std::string name)
    : LocalTime(std::vector<OffsetSince>{{0, offset_minutes}}, std::move(name)) {}

LocalTime::LocalTime(std::vector<OffsetSince> offsets, std::string name)
    : offsets_(std::move(offsets)), name_(std::move(name)) {
  if (offsets_.empty()) offsets_.emplace_back();
  if (!name_.empty()) return;
  const int offset = offsets_.front().minutes;
  const int minutes = offset < 0 ? -offset : offset;
  name_ = offset == 0
              ? "UTC"
              : fmt::format("UTC{}{:02}:{:02}", offset < 0 ? '-' : '+', minutes / 60, minutes % 60);
}

bool LocalTime::is_utc() const {
  return std::ranges::all_of(offsets_, [](const OffsetSince& one) { return one.minutes == 0; });
}

int64_t LocalTime::local_us(int64_t time_us) const {
  const auto after = std::ranges::upper_bound(offsets_, time_us, {}, &OffsetSince::from_us);
  const OffsetSince& now = after == offsets_.begin() ? *after : *std::prev(after);
  return time_us + now.minutes * 60 * kSecond;
}

std::string LocalTime::date(int64_t time_us) const {
  static constexpr const char* kMonths[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                            "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  const Civil c = civil_of(floor_div(local_us(time_us), kDay));
  return fmt::format("{} {} {}", c.day, kMonths[c.month - 1], c.year);
}

std::string LocalTime::clock(int64_t time_us) const {
  const int64_t local = local_us(time_us);
  const int64_t seconds = (local - floor_div(local, kDay) * kDay) / kSecond;
  return fmt::format("{:02}:{:02}:{:02}", seconds / 3600, seconds / 60 % 60, seconds % 60);
}

std::string LocalTime::clock_tenths(int64_t time_us) const {
  const int64_t tenth = (time_us - floor_div(time_us, kSecond) * kSecond) / 100'000;
  return fmt::format("{}.{}", clock(time_us), tenth);
}

std::string LocalTime::minute(int64_t time_us) const { return clock(time_us).substr(0, 5); }

std::string LocalTime::date_clock(int64_t time_us) const {
  return date(time_us) + " " + clock(time_us);
}

std::string span_words(int64_t span_us) {
  const int64_t s = (span_us < 0 ? -span_us : span_us) / kSecond;
  if (s < 60) return fmt::format("{} s", s);
  if (s < 3600)
    return s % 60 ? fmt::format("{} min {} s", s / 60, s % 60) : fmt::format("{} min", s / 60);
  if (s < 2 * 86400) return fmt::format("{} h {} min", s / 3600, s / 60 % 60);
  return fmt::format("{} days", s / 86400);
}

std::optional<double> read_number(std::string_view text) {
  if (!text.empty() && text[0] == '+') text.remove_prefix(1);
  double value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value)) {
    return std::nullopt;
  }
  return value;
}

}  // namespace fairlead::reports
