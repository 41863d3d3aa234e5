// A report's table of findings against the findings themselves.
#include "clients/verify/report_rows.h"

#include <gtest/gtest.h>

namespace fairlead::verifier {
namespace {

std::vector<judge::Finding> two_findings() {
  std::vector<judge::Finding> out(2);
  out[0].procedure_id = out[1].procedure_id = "load";
  out[0].rule = "A";
  out[0].applies = judge::Applies::kYes;
  out[0].verdict = judge::Verdict::kDeviated;
  out[1].rule = "B";
  out[1].applies = judge::Applies::kNo;
  return out;
}

std::string table(const std::string& rows) { return R"({"findings":{"rows":[)" + rows + "]}}"; }

const std::string kA =
    R"({"rule":"A","procedure":"load","applies":"yes","verdict":"deviated","outside":true})";
const std::string kB =
    R"({"rule":"B","procedure":"load","applies":"no","verdict":"does not apply","outside":false})";

TEST(ReportRows, TheSameTableHasNoDifference) {
  EXPECT_TRUE(report_differences(table(kA + "," + kB), two_findings()).empty());
}

TEST(ReportRows, EveryDifferenceIsSaid) {
  const std::string softened =
      R"({"rule":"A","procedure":"load","applies":"yes","verdict":"met","outside":false})";
  const std::string hidden =
      R"({"rule":"A","procedure":"load","applies":"yes","verdict":"deviated","outside":false})";
  for (const std::string& report :
       {table(softened + "," + kB), table(hidden + "," + kB), table(kB),
        table(kA + "," + kA + "," + kB), table(kA + "," + kB + ",1"), table(""), std::string("{}"),
        std::string("not JSON"), std::string(R"({"findings":[]})")}) {
    EXPECT_FALSE(report_differences(report, two_findings()).empty()) << report;
  }
}

}  // namespace
}  // namespace fairlead::verifier
