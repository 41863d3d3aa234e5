#include "clients/cli/finding_text.h"

#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>

namespace fairlead::cli {
namespace {

constexpr std::string_view kProcedure = "; procedure ";
constexpr size_t kNarrowest = 40, kUsual = 80, kIndent = 4;

size_t characters(std::string_view text) {
  return static_cast<size_t>(std::ranges::count_if(
      text, [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) != 0x80U; }));
}

// The sentence without what its block's head and heading say: rule, verdict, procedure.
std::string body_of(const judge::Finding& finding) {
  std::string text = finding.sentence.substr(0, finding.sentence.rfind(kProcedure));
  const std::string head = finding.rule + " ";
  if (!text.starts_with(head)) return text;
  const size_t colon = text.find(": ", head.size());
  return colon == std::string::npos ? text : text.substr(colon + 2);
}

}  // namespace

size_t terminal_width() {
  const char* columns = std::getenv("COLUMNS");  // NOLINT(concurrency-mt-unsafe): one thread.
  const size_t asked = columns == nullptr ? 0 : std::strtoul(columns, nullptr, 10);
  if (asked != 0) return std::max(asked, kNarrowest);
  if (::isatty(STDOUT_FILENO) == 0) return 0;
  winsize size{};
  const bool known = ::ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col != 0;
  return std::max<size_t>(known ? size.ws_col : kUsual, kNarrowest);
}

std::string wrapped(std::string_view text, size_t indent, size_t width) {
  const std::string blanks(indent, ' ');
  std::string out, line;
  while (!text.empty()) {
    const size_t end = std::min(text.find(' '), text.size());
    const std::string_view word = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    const bool fits = indent + characters(line) + 1 + characters(word) <= width;
    if (!line.empty() && !fits) {
      out += blanks + line + "\n";
      line.clear();
    }
    if (!line.empty()) line += ' ';
    line += word;
  }
  return out + blanks + line + "\n";
}

std::string finding_block(const judge::Finding& finding, size_t width) {
  std::string verdict =
      finding.applies == judge::Applies::kNo ? "does not apply" : judge::word(finding.verdict);
  if (finding.reason != judge::Reason::kNone)
    verdict += fmt::format(" ({})", judge::word(finding.reason));
  return wrapped(fmt::format("{}: {}: {}", finding.rule, verdict, finding.title), 0, width) +
         wrapped(body_of(finding), kIndent, width);
}

std::string procedure_heading(const judge::Finding& finding) {
  const size_t at = finding.sentence.rfind(kProcedure);
  return at == std::string::npos ? "" : finding.sentence.substr(at + 2);
}

}  // namespace fairlead::cli
