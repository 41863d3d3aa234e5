// Which gear and sensors count on a day, and which soon will not. Dates and defect words; the
// fleet's OW-11 has certificates that end on 2027-01-31 and gear to be inspected by 2027-12-31.
#include "daemon/plan/due.h"

#include <gtest/gtest.h>

#include <algorithm>

#include "daemon/base/time_text.h"
#include "tests/unit/plan/plan_kit.h"

namespace fairlead::plan {
namespace {

DueItem due_of(const std::vector<DueItem>& items, const std::string& id) {
  const auto found = std::ranges::find(items, id, &DueItem::id);
  EXPECT_NE(found, items.end()) << id;
  return found == items.end() ? DueItem{} : *found;
}

TEST(RegisterDue, GearByDatesAndDefects) {
  const auto book = fleet(
      "gear { id: \"whole\" kind: WEBBING inspect_by: \"2026-12-10\" }\n"
      "gear { id: \"gone\" kind: WEBBING out_of_service: \"2026-11-29\" }\n"
      "gear { id: \"leaves\" kind: WEBBING out_of_service: \"2026-12-05\" }\n"
      "gear { id: \"young\" kind: WEBBING in_service: \"2026-11-30\" }\n"
      "gear { id: \"late\" kind: WEBBING inspect_by: \"2026-11-28\" }\n"
      "gear { id: \"last-day\" kind: WEBBING inspect_by: \"2026-11-29\" }\n"
      "gear { id: \"knotted\" kind: WEBBING width: \"50 mm\" defect: \"knot\" }\n"
      "gear { id: \"odd\" kind: WEBBING width: \"50 mm\" defect: \"looks odd\" }\n");
  const auto items = register_due(book, *parse_date_us("2026-11-29"), 30);
  EXPECT_EQ(due_of(items, "whole").due, Due::kSoon);
  EXPECT_EQ(due_of(items, "whole").words, "its inspection is due by 2026-12-10");
  EXPECT_EQ(due_of(items, "gone").due, Due::kNotCounted);
  EXPECT_EQ(due_of(items, "leaves").due, Due::kSoon);
  EXPECT_EQ(due_of(items, "leaves").words, "it goes out of service on 2026-12-05");
  EXPECT_EQ(due_of(items, "young").due, Due::kNotCounted);
  EXPECT_EQ(due_of(items, "young").words, "it was not in service before 2026-11-30");
  EXPECT_EQ(due_of(items, "late").due, Due::kNotCounted);
  EXPECT_EQ(due_of(items, "last-day").due, Due::kSoon);
  EXPECT_EQ(due_of(items, "knotted").due, Due::kNotCounted);
  EXPECT_EQ(due_of(items, "odd").due, Due::kUnproven);
  EXPECT_EQ(due_of(items, "OW-04-strap-LF").due, Due::kInOrder);
  EXPECT_EQ(due_of(items, "OW-04-strap-LF").truck, "OW-04");
}

TEST(RegisterDue, SensorsByCertificate) {
  const auto at = [](const char* day, int ahead) {
    return register_due(fleet(), *parse_date_us(day), ahead);
  };
  EXPECT_EQ(due_of(at("2026-11-29", 30), "OW-11-load-cell").due, Due::kInOrder);
  EXPECT_EQ(due_of(at("2026-11-29", 90), "OW-11-load-cell").due, Due::kSoon);
  EXPECT_EQ(due_of(at("2027-01-31", 0), "OW-11-load-cell").due, Due::kInOrder);
  EXPECT_EQ(due_of(at("2027-02-01", 0), "OW-11-load-cell").due, Due::kNotCounted);
  EXPECT_EQ(due_of(at("2026-09-30", 0), "OW-11-load-cell").due, Due::kNotCounted);
  EXPECT_EQ(due_of(at("2026-11-29", 30), "OW-11-receiver").due, Due::kUnproven);
}

}  // namespace
}  // namespace fairlead::plan
