// The bundle out of a PDF: both ways of storing it, and every way of being wrong.
#include "clients/verify/pdf_bundle.h"

#include <gtest/gtest.h>

#include "tests/unit/verify/small_pdf.h"

namespace fairlead::verifier {
namespace {

const std::string kBundle = "FLB1" + std::string(100'000, 'b') + "end";

std::string words_of(const std::string& pdf) {
  const auto found = bundle_of_pdf(pdf);
  return found ? "found" : found.error().message;
}

TEST(PdfBundle, StoredPlainOrDeflatedComesOutAsItWentIn) {
  const auto flate = bundle_of_pdf(small_pdf(kBundle));
  ASSERT_TRUE(flate.has_value()) << flate.error().message;
  EXPECT_EQ(*flate, kBundle);
  const auto plain = bundle_of_pdf("%PDF-1.7\n" + embedded_file(3, kBundle, ""));
  ASSERT_TRUE(plain.has_value()) << plain.error().message;
  EXPECT_EQ(*plain, kBundle);
  const auto listed =
      bundle_of_pdf("%PDF-1.7\n" + embedded_file(3, deflated(kBundle), "/Filter [ /FlateDecode ]"));
  ASSERT_TRUE(listed.has_value()) << listed.error().message;
  EXPECT_EQ(*listed, kBundle);
}

TEST(PdfBundle, OtherAttachmentsArePassedOver) {
  const std::string figures = embedded_file(4, deflated("{\"figures\":1}"), "/Filter /FlateDecode");
  EXPECT_EQ(words_of(small_pdf(kBundle) + figures), "found");
  EXPECT_NE(words_of("%PDF-1.7\n" + figures).find("carries no bundle"), std::string::npos);
}

TEST(PdfBundle, TwoBundlesAreRefusedForNobodyCanSayWhichIsMeant) {
  const std::string two = small_pdf(kBundle) + embedded_file(9, kBundle, "");
  EXPECT_NE(words_of(two).find("more than one bundle"), std::string::npos) << words_of(two);
}

TEST(PdfBundle, WhatIsNotInOurFormIsSaidSo) {
  const std::string packed = deflated(kBundle);
  const std::string cases[] = {
      embedded_file(3, packed, "/Filter /LZWDecode"),
      embedded_file(3, packed, "/Filter /FlateDecode /DecodeParms << /Predictor 12 >>"),
      "3 0 obj\n<< /Type /EmbeddedFile /Length 7 0 R >>\nstream\nFLB1...\nendstream\nendobj\n",
      "3 0 obj\n<< /Type /EmbeddedFile /Length 999 >>\nstream\nFLB1...\nendstream\nendobj\n",
      "3 0 obj\n<< /Type /EmbeddedFile >>\nstream\nFLB1...\nendstream\nendobj\n"};
  for (const std::string& text : cases) {
    EXPECT_NE(words_of("%PDF-1.7\n" + text).find("not stored the way"), std::string::npos) << text;
  }
}

TEST(PdfBundle, CutOffDamagedAndOverlongOnesAreRefused) {
  const std::string packed = deflated(kBundle);
  const auto with = [](const std::string& data, const std::string& size) {
    return "%PDF-1.7\n" +
           embedded_file(3, data, "/Filter /FlateDecode /Params << /Size " + size + " >>");
  };
  const std::string right = std::to_string(kBundle.size());
  EXPECT_EQ(words_of(with(packed, right)), "found");
  EXPECT_NE(words_of(with(packed.substr(0, packed.size() - 5), right)).find("cut off or damaged"),
            std::string::npos);
  std::string damaged = packed;
  damaged[damaged.size() - 2] = static_cast<char>(damaged[damaged.size() - 2] ^ 1);
  EXPECT_NE(words_of(with(damaged, right)).find("cut off or damaged"), std::string::npos);
  // A stream that inflates to more than it says is stopped there, however much more it holds.
  EXPECT_NE(words_of(with(packed, "50000")).find("cut off or damaged"), std::string::npos);
  EXPECT_NE(words_of(with(packed, "200000")).find("another length"), std::string::npos);
  EXPECT_NE(words_of(with(packed, "99999999999")).find("over 1 GiB"), std::string::npos);
}

TEST(PdfBundle, EveryTruncationOfAPdfIsRefused) {
  const std::string pdf = small_pdf("FLB1 a short one");
  const size_t end = pdf.find("\nendstream");
  for (size_t size = 0; size < end; ++size) {
    EXPECT_FALSE(bundle_of_pdf(std::string_view(pdf).substr(0, size)).has_value()) << size;
  }
}

}  // namespace
}  // namespace fairlead::verifier
