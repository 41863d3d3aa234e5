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
#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

using testing::HasSubstr;

constexpr int64_t kDay = 86'400'000'000;
const std::string kHostile =
    "<img src=x onerror=alert(1)>\u202Egpj.exe \U0001F69A "
    "\u0627\u0644\u0633\u064A\u0627\u0631\u0629 "
    "\u8ECA\u4E21 ";

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

SummaryInput full_year(const std::string& text) {
  SummaryInput in;
  RuleNames names;
  in.to_us = sample_options().issued_at_us - 100 * kDay;
  in.from_us = in.to_us - 364 * kDay;
  in.past_from_us = in.from_us - 365 * kDay;
  in.jobs_invoiced = 21'000;
  in.unrecorded_work = 37;
  in.record = sample_job().record;
  in.register_files = sample_job().register_files;
  in.recipients = {"insurer@example.org"};
  auto* gear = in.register_files.add_gear();
  gear->set_id(text);
  gear->set_inspect_by("2026-01-01");
  for (int rule = 0; rule < 40; ++rule) {
    auto f = finding("rule" + std::to_string(rule), judge::Verdict::kMet, judge::Basis::kMeasured,
                     "1", "1", "1", "m");
    f.title =
        rule == 0 ? text : "A rule with a title of middling length, number " + std::to_string(rule);
    f.procedure_id = rule == 1 ? text.substr(0, 40) : "load";
    for (int i = -1'300; i < 1'300; ++i) {
      SummaryJob job;
      job.opened_us = in.from_us + i * (364 * kDay / 1'300);
      job.people = {"card-" + std::to_string((i + 2'600) % 7)};
      const bool late = i > 1'000;
      f.verdict = (i + 2'600) % (late && rule < 3 ? 6 : 17) == rule % 6 ? judge::Verdict::kDeviated
                                                                        : judge::Verdict::kMet;
      job.findings = {summary_finding(f, names)};
      job.job_id = std::string(32, 'a');
      (i < 0 ? in.past : in.jobs).push_back(std::move(job));
    }
  }
  for (int i = 0; i < 60; ++i) {
    const int64_t opened = in.from_us + i * 6 * kDay;
    in.claims.push_back({opened,
                         opened + i * kDay,
                         i % 2 == 0 ? ClaimState::kPaid : ClaimState::kOpen,
                         i % 4 == 0 ? "1250.50 EUR" : text,
                         {"marks"}});
  }
  for (int i = 0; i < 30; ++i)
    in.standing.devices.push_back({text, std::string(32, 'b'), 1, 1'000'000, std::string(64, 'c')});
  in.standing.request = "old 0\n\n" + std::string(300, 'Q') + "\n";
  return in;
}

TEST_P(SummaryPdf, ASummaryOfAYearStaysWithinItsMargins) {
  for (const std::string& text : {std::string("plain"), kHostile + std::string(2'000, 'w')}) {
    const auto json = summary_json(full_year(text), sample_options(GetParam()));
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
  JobRecord plain = sample_job(), hostile = sample_job();
  hostile.number = kHostile + std::string(10'000, 'w');
  for (auto& line : hostile.lines) {
    if (line.has_opened()) {
      line.mutable_opened()->set_vehicle(kHostile + std::string(5'000, 'W'));
      line.mutable_opened()->set_truck(std::string(5'000, '-'));
    }
  }
  for (auto& [id, name] : hostile.cards) name = kHostile + std::string(3'000, 'm');
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
