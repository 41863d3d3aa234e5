// Pictures as a page shows them: a camera's 12 megapixels are scaled down, so that a report of
// sixty pictures can be mailed and opened. The record keeps the files as they were taken, and a
// page prints the SHA-256 of those.
//
// Threads: as run_python(). Errors: of run_python(), naming the pictures.
#pragma once

#include <map>
#include <string>
#include <string_view>

#include "daemon/base/result.h"
#include "reports/job_record.h"

namespace fairlead::reports {

inline constexpr int kLongestSide_px = 1'200;  // 300 to the inch where a page shows them largest.
inline constexpr size_t kMostShownBytes = 400'000;

/// "image/png" or "image/jpeg" by the first bytes, not by what a line says of it; else nullptr.
[[nodiscard]] const char* picture_type(std::string_view bytes);

/// Those that are PNG or JPEG by their bytes, small enough for the page and upright, under the same
/// SHA-256 (that of the original). Those that cannot be decoded are left out.
[[nodiscard]] Result<std::map<std::string, Attachment>> page_pictures(
    const std::map<std::string, Attachment>& attachments);

}  // namespace fairlead::reports
