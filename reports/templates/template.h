// The one place that knows the template engine. Every value is HTML-escaped unless the template
// says {{{raw}}}; a key the data lacks is an error, never an empty spot on the page.
//
// Threads: pure function.
#pragma once

#include <string>
#include <string_view>

#include "daemon/base/result.h"
#include "reports/json.h"

namespace fairlead::reports {

/// Fills a mustache template. Strings are printed as they are, numbers are refused (figures are
/// strings in the reports' JSON), null and false close a section.
/// Errors: kInternal naming the missing key or the place of a template fault.
[[nodiscard]] Result<std::string> fill_template(std::string_view text, const Json& data);

/// & < > " ' as entities: for SVG texts and attributes that are built by code.
[[nodiscard]] std::string escape_html(std::string_view text);

/// Bytes of a file of this folder, compiled into the program ("claim.mustache", "page.css").
/// Errors: kInternal for a name that was not compiled in.
[[nodiscard]] Result<std::string_view> built_in_file(std::string_view name);

}  // namespace fairlead::reports
