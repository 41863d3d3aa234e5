// The PDF: accepted by qpdf, pages sensible at both sizes, attached files come out word for word.
#include "reports/pdf.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "reports/claim/claim_report.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::reports {
namespace {

using testing::HasSubstr;

class PdfTest : public testing::Test {
 protected:
  void SetUp() override {
    std::string name = (std::filesystem::temp_directory_path() / "fairlead-pdf-XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  std::string path(const std::string& name) const { return (folder_ / name).string(); }
  void write(const std::string& name, const std::string& bytes) const {
    std::ofstream(path(name), std::ios::binary) << bytes;
  }
  std::string read(const std::string& name) const {
    std::ifstream file(path(name), std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
  }
  /// Standard output; the exit code is checked.
  std::string run(const std::string& command) const {
    FILE* pipe = popen((command + " 2>&1").c_str(), "r");
    if (pipe == nullptr) return {};
    std::string out;
    std::array<char, 4096> buffer;
    while (fgets(buffer.data(), buffer.size(), pipe) != nullptr) out += buffer.data();
    EXPECT_EQ(pclose(pipe), 0) << command << "\n" << out;
    return out;
  }
  std::filesystem::path folder_;
};

PdfOptions pdf_options() {
  PdfOptions options;
  options.title = "Claim report, job OW-2027-0412";
  options.author = "Ozzlewick Recovery";
  options.program = "fairlead 0.1.0";
  options.made_at_us = sample_options().issued_at_us;
  return options;
}

std::string html_of(const JobRecord& record, const v1::Claim& claim, Paper paper) {
  const auto table = shipped_allegation_table();
  const auto json = claim_report_json(record, claim, *table, sample_options(paper));
  EXPECT_TRUE(json.has_value()) << json.error().message;
  const auto html = claim_report_html(*json, record.attachments);
  EXPECT_TRUE(html.has_value()) << html.error().message;
  return *html;
}

TEST_F(PdfTest, CheckedAttachedAndReproducible) {
  const std::string html = html_of(sample_job(), sample_claim(), Paper::kA4);
  PdfOptions options = pdf_options();
  const std::string bundle("FLB1\0\x01\xFF", 7);
  options.attached = {{"bundle.flb", "application/octet-stream", "The record", "Data", bundle},
                      {"report.json", "application/json", "Every figure", "Source", "{}\n"}};
  const auto pdf = make_pdf(html, options);
  ASSERT_TRUE(pdf.has_value()) << pdf.error().message;
  write("a.pdf", *pdf);
  EXPECT_THAT(run("qpdf --check " + path("a.pdf")),
              HasSubstr("No syntax or stream encoding errors"));
  EXPECT_THAT(run("pdfdetach -list " + path("a.pdf")), HasSubstr("bundle.flb"));
  run("pdfdetach -savefile bundle.flb -o " + path("out.flb") + " " + path("a.pdf"));
  EXPECT_EQ(read("out.flb"), bundle);
  const std::string objects = run("qpdf --json " + path("a.pdf"));
  EXPECT_THAT(objects, HasSubstr("/AFRelationship"));
  EXPECT_THAT(objects, HasSubstr("\"/AF\""));
  const auto again = make_pdf(html, options);
  ASSERT_TRUE(again.has_value());
  EXPECT_EQ(*pdf, *again);
}

// Page 1 holds its nine blocks, the last page is not empty, every font is embedded.
TEST_F(PdfTest, PagesAtLetterSize) {
  const auto pdf = make_pdf(html_of(sample_job(), sample_claim(), Paper::kLetter), pdf_options());
  ASSERT_TRUE(pdf.has_value()) << pdf.error().message;
  write("l.pdf", *pdf);
  EXPECT_THAT(run("pdfinfo " + path("l.pdf")), HasSubstr("612 x 792"));
  const std::string first = run("pdftotext -f 1 -l 1 -layout " + path("l.pdf") + " -");
  EXPECT_THAT(first, HasSubstr("Claim report"));
  EXPECT_THAT(first, HasSubstr("or that everything done was recorded"));
  EXPECT_THAT(first, HasSubstr("Page 1 of"));
  const std::string second = run("pdftotext -f 2 -l 2 -layout " + path("l.pdf") + " -");
  EXPECT_THAT(second, HasSubstr("Answers in full"));
  EXPECT_THAT(run("pdffonts " + path("l.pdf")), HasSubstr("Noto-Sans"));
  EXPECT_EQ(run("pdfdetach -list " + path("l.pdf")), "0 embedded files\n");
}

// The page cannot make the layout program read files or the network.
TEST_F(PdfTest, NamedAddressesAreNotFetched) {
  write("secret.css", "body::before { content: 'LEAKED' }");
  const std::string html = "<!DOCTYPE html><title>t</title><link rel=stylesheet href=\"file://" +
                           path("secret.css") + "\"><p>shown</p>";
  const auto pdf = make_pdf(html, pdf_options());
  ASSERT_TRUE(pdf.has_value()) << pdf.error().message;
  write("s.pdf", *pdf);
  const std::string text = run("pdftotext " + path("s.pdf") + " -");
  EXPECT_THAT(text, HasSubstr("shown"));
  EXPECT_THAT(text, testing::Not(HasSubstr("LEAKED")));
}

TEST_F(PdfTest, TooSlowIsStoppedAndSaid) {
  PdfOptions options = pdf_options();
  options.timeout = std::chrono::seconds(0);
  const auto pdf = lay_out_pdf("<p>x</p>", options);
  ASSERT_FALSE(pdf.has_value());
  EXPECT_EQ(pdf.error().code, Code::kUnavailable);
  EXPECT_THAT(pdf.error().message, HasSubstr("the HTML page has the same content"));
}

}  // namespace
}  // namespace fairlead::reports
