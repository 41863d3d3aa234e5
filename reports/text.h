// Words and figures as a report prints them.
//
// Threads: pure functions.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace fairlead::reports {

/// Free text made harmless and legible: broken UTF-8 becomes U+FFFD; control, bidi and other
/// invisible formatting characters and more than three combining marks in a row become "[U+202E]".
/// HTML is not escaped here; the template does that. A run of more than 80 characters without a
/// space gets zero-width spaces, so that lines can end in it. Beyond kMostShown characters it says
/// how many more the record holds: a page of one field helps nobody, and laying it out takes
/// minutes.
[[nodiscard]] std::string shown(std::string_view text);
/// The same, all of it and with its line ends: the claimant's own words.
[[nodiscard]] std::string shown_whole(std::string_view text);
inline constexpr size_t kMostShown = 1'000;

/// At most `limit` characters (code points), cut at the last space, " ..." added when cut.
[[nodiscard]] std::string shortened(const std::string& text, size_t limit);
/// True when shortened() would cut.
[[nodiscard]] bool is_longer(const std::string& text, size_t limit);
/// shortened(); sets `cut` where it did, and leaves it else.
[[nodiscard]] std::string brief(const std::string& text, size_t limit, bool& cut);

/// "1,234,567".
[[nodiscard]] std::string grouped(uint64_t number);
/// Decimal with a fixed number of places, never "-0".
[[nodiscard]] std::string fixed(double value, int places);
/// record::fingerprint_of a root given as 64 hex characters, group by group; nothing for other
/// text.
[[nodiscard]] std::vector<std::string> fingerprint_groups(std::string_view hex);
/// "one", "two" ... "twelve", then figures.
[[nodiscard]] std::string count_word(uint64_t number);
/// "3 photos", "1 photo".
[[nodiscard]] std::string counted(uint64_t number, const std::string& one, const std::string& many);
/// "a, b and c".
[[nodiscard]] std::string listed(const std::vector<std::string>& words);

/// Minutes east of UTC from a moment on.
struct OffsetSince {
  int64_t from_us = 0;
  int minutes = 0;
};

/// Local wall clock of one report. With several offsets, in order of time, each moment has the one
/// in force then: a summary of a year has summer and winter time on its pages.
class LocalTime {
 public:
  LocalTime(int offset_minutes, std::string name);
  LocalTime(std::vector<OffsetSince> offsets, std::string name);
  [[nodiscard]] std::string date(int64_t time_us) const;          // "2 Mar 2026"
  [[nodiscard]] std::string clock(int64_t time_us) const;         // "14:03:07"
  [[nodiscard]] std::string clock_tenths(int64_t time_us) const;  // "14:03:07.4"
  [[nodiscard]] std::string minute(int64_t time_us) const;        // "14:03"
  [[nodiscard]] std::string date_clock(int64_t time_us) const;
  [[nodiscard]] const std::string& name() const { return name_; }
  /// Then a second column of UTC says nothing new.
  [[nodiscard]] bool is_utc() const;

 private:
  [[nodiscard]] int64_t local_us(int64_t time_us) const;

  std::vector<OffsetSince> offsets_;  // At least one.
  std::string name_;
};

/// "7 min 40 s", "41 days": rounded down to what a reader needs.
[[nodiscard]] std::string span_words(int64_t span_us);

/// A number in front of a unit, read with '.', sign and digits only; nullopt for anything else.
[[nodiscard]] std::optional<double> read_number(std::string_view text);

}  // namespace fairlead::reports
