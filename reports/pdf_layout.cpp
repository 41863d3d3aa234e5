// The child process that lays pages out.
#include "daemon/base/crypto.h"
#include "reports/pdf.h"
#include "reports/python_child.h"

namespace fairlead::reports {

Result<std::string> lay_out_pdf(const std::string& html, const PdfOptions& options) {
  PythonTask task;
  task.script = "lay_out.py";
  task.package = "weasyprint";
  task.arguments = {hex_of(sha256(html)).substr(0, 32)};
  task.environment = {"SOURCE_DATE_EPOCH=" + std::to_string(options.made_at_us / 1'000'000)};
  task.timeout = options.timeout;
  auto pdf = run_python(task, html);
  const char* const remedy = "; the HTML page has the same content";
  if (!pdf) return fail(pdf.error().code, "page layout: " + pdf.error().message + remedy);
  if (!pdf->starts_with("%PDF-"))
    return fail(Code::kInternal, std::string("page layout: gave no PDF") + remedy);
  return pdf;
}

Result<std::string> make_pdf(const std::string& html, const PdfOptions& options) {
  const auto pdf = lay_out_pdf(html, options);
  if (!pdf) return pdf;
  return finish_pdf(*pdf, options);
}

}  // namespace fairlead::reports
