// Takes the bundle out of a PDF report: the embedded file that begins with "FLB1", stored plain or
// Flate (ISO 32000-2, 7.11.4 and 7.4.4), in the form our own writer gives it. Not a reader of PDF:
// pages are not looked at, and a file another program has saved anew may be refused with words that
// say how to get the bundle.
//
// Hostile input: only views and one output string are kept; its size is capped before it grows.
// Threads: pure function.
#pragma once

#include <string>
#include <string_view>

#include "daemon/base/result.h"

namespace fairlead::verifier {

inline constexpr size_t kMaxInflatedBundle = size_t{1} << 30;

[[nodiscard]] inline bool is_pdf(std::string_view bytes) { return bytes.starts_with("%PDF-"); }

/// Errors: kNotFound when no bundle is attached; kBadInput for several bundles, or one that is cut
/// off, over the cap or stored in another form.
[[nodiscard]] Result<std::string> bundle_of_pdf(std::string_view pdf);

}  // namespace fairlead::verifier
