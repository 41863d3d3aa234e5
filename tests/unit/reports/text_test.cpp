// Text and figures as printed.
#include "reports/text.h"

#include <gmock/gmock.h>

#include "reports/templates/template.h"

namespace fairlead::reports {
namespace {

// UTF-8 well-formedness after RFC 3629; bidi controls after Unicode Standard Annex 9.
TEST(Shown, BrokenAndInvisibleCharacters) {
  EXPECT_EQ(shown("a\xFFz"), "a\xEF\xBF\xBDz");
  EXPECT_EQ(shown("\xC0\xAF"), "\xEF\xBF\xBD\xEF\xBF\xBD");
  EXPECT_EQ(shown("\xED\xA0\x80").find('\xED'), std::string::npos);
  EXPECT_EQ(shown("a\xE2\x80\xAE"
                  "b"),
            "a[U+202E]b");
  EXPECT_EQ(shown("a\xE2\x80\x8B"
                  "b\xEF\xBB\xBF"),
            "a[U+200B]b[U+FEFF]");
  EXPECT_EQ(shown(std::string("a\0b", 3)), "a[U+0000]b");
  EXPECT_EQ(shown("a\r\nb\tc"), "a b c");
  EXPECT_EQ(shown_whole("a\nb"), "a\nb");
  const std::string mark = "\xCC\x81";
  EXPECT_EQ(shown("e" + mark + mark + mark + mark), "e" + mark + mark + mark + "[U+0301]");
}

TEST(Shortened, CutsAtASpaceAndNeverInsideACharacter) {
  EXPECT_EQ(shortened("one two three", 9), "one two ...");
  EXPECT_EQ(shortened("\xC3\xA4\xC3\xA4\xC3\xA4", 2), "\xC3\xA4\xC3\xA4 ...");
  EXPECT_EQ(shortened("short", 9), "short");
}

TEST(Figures, GroupsDecimalsAndSpans) {
  EXPECT_EQ(grouped(48211), "48,211");
  EXPECT_EQ(grouped(100), "100");
  EXPECT_EQ(grouped(1234567), "1,234,567");
  EXPECT_EQ(fixed(-0.04, 1), "0.0");
  EXPECT_EQ(span_words(464'000'000), "7 min 44 s");
  EXPECT_EQ(span_words(41LL * 86'400'000'000), "41 days");
  EXPECT_EQ(listed({"a", "b", "c"}), "a, b and c");
}

TEST(Shown, LongTextSaysHowMuchMoreIsOnRecord) {
  std::string most;
  while (most.size() < kMostShown) most += "nine char ";
  EXPECT_EQ(shown(most), most);
  EXPECT_EQ(shown(most + std::string(9'000, 'w')), most + " ... [9,000 more characters on record]");
  EXPECT_EQ(shown_whole(most + most), most + most);
  // Characters, not bytes; a broken byte is one.
  std::string ideograms, broken;
  for (int i = 0; i < 500; ++i) ideograms += "\xE8\xBB\x8A ", broken += "\x80 \x80 ";
  EXPECT_EQ(shown(ideograms), ideograms);
  EXPECT_THAT(shown(broken), testing::EndsWith(" ... [1,000 more characters on record]"));
}

TEST(Shown, LongRunsGetPlacesWhereALineMayEnd) {
  const std::string hash(64, 'a'), run(100, 'w'), space = "\xE2\x80\x8B";
  EXPECT_EQ(shown(hash + " " + hash), hash + " " + hash);
  EXPECT_EQ(shown("a " + run + " b"), "a " + std::string(40, 'w') + space + std::string(40, 'w') +
                                          space + std::string(20, 'w') + " b");
  // One that comes from outside is shown as what it is.
  EXPECT_EQ(shown("a" + space + "b"), "a[U+200B]b");
}

// Calendar: 1802865120 s is 2027-02-17T11:52:00Z (date -u -d @1802865120).
TEST(LocalTime, DatesAndOffsets) {
  const LocalTime utc(0, "");
  EXPECT_EQ(utc.date_clock(1802865120'000'000), "17 Feb 2027 11:52:00");
  const LocalTime west(-150, "");
  EXPECT_EQ(west.name(), "UTC-02:30");
  EXPECT_EQ(west.date_clock(1802823120'000'000), "16 Feb 2027 21:42:00");
  EXPECT_EQ(LocalTime(60, "CET").name(), "CET");
  EXPECT_EQ(utc.date(-1), "31 Dec 1969");
  EXPECT_EQ(utc.clock_tenths(-100'000), "23:59:59.9");
}

// Ireland's clocks went forward on 28 March 2027 at 01:00 UTC and back on 31 October (IANA tzdata,
// rule EU): a span that holds a change has both offsets on its pages.
TEST(LocalTime, EachTimeHasTheOffsetThatWasInForceThen) {
  const int64_t march = 1806195600'000'000, october = 1824944400'000'000;  // date -u -d ... +%s
  const LocalTime dublin({{0, 0}, {march, 60}, {october, 0}}, "Europe/Dublin");
  EXPECT_EQ(dublin.date_clock(march - 1'000'000), "28 Mar 2027 00:59:59");
  EXPECT_EQ(dublin.date_clock(march), "28 Mar 2027 02:00:00");
  EXPECT_EQ(dublin.date_clock(october - 1'000'000), "31 Oct 2027 01:59:59");
  EXPECT_EQ(dublin.date_clock(october), "31 Oct 2027 01:00:00");
  EXPECT_EQ(dublin.clock(-1), "23:59:59");  // Before the first: that one.
  EXPECT_EQ(dublin.name(), "Europe/Dublin");
  EXPECT_FALSE(dublin.is_utc());
  EXPECT_TRUE(LocalTime(std::vector<OffsetSince>{}, "").is_utc());
  EXPECT_EQ(LocalTime({{0, 60}}, "").name(), "UTC+01:00");
}

TEST(Template, EscapesAndRefusesMissingKeys) {
  Json data = {{"a", "<b> & \"c\" 'd'"}};
  EXPECT_EQ(*fill_template("{{a}}", data), "&lt;b&gt; &amp; &quot;c&quot; &apos;d&apos;");
  const auto missing = fill_template("{{#a}}{{nope}}{{/a}}", data);
  ASSERT_FALSE(missing.has_value());
  EXPECT_NE(missing.error().message.find("'nope'"), std::string::npos);
  EXPECT_FALSE(fill_template("{{#open}}", data).has_value());
}

}  // namespace
}  // namespace fairlead::reports
