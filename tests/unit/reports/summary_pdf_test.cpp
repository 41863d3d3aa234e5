// Summary and job sheet as PDF at both sizes: accepted by qpdf, nothing beyond the margins (word
// boxes of pdftotext), the sheet on one page, whatever text its fields hold.
#include <gmock/gmock.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <regex>
#include <sstream>

#include "reports/pdf.h"
#include "reports/sheet/sheet.h"
#include "reports/summary/summary.h"
#include "tests/unit/reports/hostile_job.h"
#include "tests/unit/reports/sample_job.h"
#include "tests/unit/reports/sample_summary.h"

namespace fairlead::reports {
namespace {

using testing::HasSubstr;

class SummaryPdf : public testing::TestWithParam<Paper> {
 protected:
  void SetUp() override {
    std::string name = (std::filesystem::temp_directory_path() / "fairlead-pdf-XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  static std::string run(const std::string& command) {
    FILE* pipe = popen((command + " 2>&1").c_str(), "r");
    if (pipe == nullptr) return {};
    std::string out;
    std::array<char, 4096> buffer;
    while (fgets(buffer.data(), buffer.size(), pipe) != nullptr) out += buffer.data();
    EXPECT_EQ(pclose(pipe), 0) << command << "\n" << out;
    return out;
  }

  /// Lays it out and checks it; the number of pages.
  int check(const std::string& html, const std::string& name) const {
    PdfOptions options;
    options.title = "t";
    options.author = "a";
    options.program = "p";
    const auto pdf = make_pdf(html, options);
    EXPECT_TRUE(pdf.has_value()) << pdf.error().message;
    if (!pdf) return 0;
    const std::string file = (folder_ / name).string();
    std::ofstream(file, std::ios::binary) << *pdf;
    if (const char* keep = std::getenv("FAIRLEAD_KEEP_REPORTS"))
      std::ofstream(std::string(keep) + "/" + (GetParam() == Paper::kA4 ? "a4-" : "letter-") + name,
                    std::ios::binary)
          << *pdf;
    EXPECT_THAT(run("qpdf --check " + file), HasSubstr("No syntax or stream encoding errors"));
    EXPECT_THAT(run("pdfinfo " + file),
                HasSubstr(GetParam() == Paper::kA4 ? "595.276 x 841.89" : "612 x 792"));
    return check_boxes(run("pdftotext -bbox " + file + " -"));
  }

  /// Margins are 15 mm left and right (page.css): 42.5 pt; a third of a point is for rounding.
  static int check_boxes(const std::string& boxes) {
    static const std::regex kPage(R"re(<page width="([0-9.]+)" height="([0-9.]+)")re");
    static const std::regex kWord(
        R"re(<word xMin="([-0-9.]+)" yMin="([-0-9.]+)" xMax="([-0-9.]+)" yMax="([-0-9.]+)">(.*)</word>)re");
    double width = 0, height = 0;
    int pages = 0;
    size_t words = 0;
    std::istringstream in(boxes);
    for (std::string line; std::getline(in, line);) {
      std::smatch m;
      if (std::regex_search(line, m, kPage)) {
        width = std::stod(m[1]);
        height = std::stod(m[2]);
        ++pages;
      } else if (std::regex_search(line, m, kWord)) {
        ++words;
        // The running head's text of one pixel is set in white at the margin.
        if (std::stod(m[4]) - std::stod(m[2]) < 2) continue;
        EXPECT_GE(std::stod(m[1]), 42.2) << line;
        EXPECT_LE(std::stod(m[3]), width - 42.2) << line;
        EXPECT_LE(std::stod(m[4]), height) << line;
      }
    }
    EXPECT_GT(words, 50u);
    return pages;
  }

  std::filesystem::path folder_;
};

TEST_P(SummaryPdf, ASummaryOfAYearStaysWithinItsMargins) {
  for (const std::string& text : {std::string("plain"), hostile_text() + std::string(2'000, 'w')}) {
    const auto json = summary_json(sample_summary(text), sample_options(GetParam()));
    ASSERT_TRUE(json.has_value()) << json.error().message;
    EXPECT_FALSE(json->at("change").at("charts").empty());
    EXPECT_FALSE(json->at("compare").at("rows").empty());
    const auto html = summary_html(*json);
    ASSERT_TRUE(html.has_value()) << html.error().message;
    EXPECT_THAT(*html, testing::Not(HasSubstr("<img src=x")));
    EXPECT_LE(check(*html, text == "plain" ? "summary.pdf" : "hostile.pdf"), 14);
  }
}

TEST_P(SummaryPdf, ASheetIsOnePage) {
  const JobRecord plain = sample_job();
  const JobRecord hostile = hostile_job(GetParam(), std::string(10'000, 'w')).record;
  int n = 0;
  for (const JobRecord& record : {plain, hostile}) {
    const auto html = sheet_html(sheet_json(record, sample_options(GetParam())));
    ASSERT_TRUE(html.has_value()) << html.error().message;
    EXPECT_EQ(check(*html, "sheet" + std::to_string(++n) + ".pdf"), 1);
  }
}

INSTANTIATE_TEST_SUITE_P(Sizes, SummaryPdf, testing::Values(Paper::kA4, Paper::kLetter),
                         [](const auto& one) { return one.param == Paper::kA4 ? "A4" : "Letter"; });

}  // namespace
}  // namespace fairlead::reports
