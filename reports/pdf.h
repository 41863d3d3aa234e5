// From one HTML page to a PDF: layout by WeasyPrint in a child process without access to network or
// files, then our own finishing with libqpdf (metadata, attached files, a fixed file identifier).
//
// Threads: functions may run in parallel; each starts its own child. Errors: kUnavailable when the
// layout program is missing or too slow, kInternal when it fails or the result cannot be read.
#pragma once

#include <chrono>
#include <string>
#include <vector>

#include "daemon/base/result.h"

namespace fairlead::reports {

struct PdfFile {
  std::string name;        // "bundle.flb"; no path
  std::string media_type;  // "application/octet-stream"
  std::string description;
  std::string relationship;  // "Data", "Source", "Supplement" (ISO 32000-2, 7.11.3)
  std::string bytes;
};

struct PdfOptions {
  std::string title;
  std::string author;
  std::string program;
  int64_t made_at_us = 0;  // The only time in the file: the same input gives the same bytes.
  std::vector<PdfFile> attached;
  std::chrono::seconds timeout{120};
};

/// Lays the page out and finishes it. Page 1 of a claim report is set smaller, by steps, until the
/// element with id "details" starts on page 2.
[[nodiscard]] Result<std::string> make_pdf(const std::string& html, const PdfOptions& options);

/// Layout alone; what make_pdf() hands to finish_pdf().
[[nodiscard]] Result<std::string> lay_out_pdf(const std::string& html, const PdfOptions& options);

/// Writes XMP, attaches files with /AF and /AFRelationship, fixes the identifier.
[[nodiscard]] Result<std::string> finish_pdf(const std::string& pdf, const PdfOptions& options);

}  // namespace fairlead::reports
