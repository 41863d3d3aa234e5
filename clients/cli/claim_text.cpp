#include "clients/cli/claim_text.h"

#include <fmt/format.h>

#include <algorithm>

#include "reports/text.h"

namespace fairlead::cli {
namespace {

using reports::shown;

std::string lower(std::string text) {
  for (char& c : text) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c;
  return text;
}

// Words folded at 76 columns, each line indented.
std::string folded(const std::string& text, const std::string& indent) {
  constexpr size_t kWidth = 76;
  std::string out, line;
  for (size_t at = 0; at <= text.size();) {
    const size_t end = std::min(text.find(' ', at), text.size());
    const std::string word = text.substr(at, end - at);
    if (!line.empty() && indent.size() + line.size() + 1 + word.size() > kWidth) {
      out += indent + line + "\n";
      line.clear();
    }
    line += (line.empty() ? "" : " ") + word;
    at = end + 1;
  }
  return out + indent + line + "\n";
}

std::string state_words(const v1::Claim& claim) {
  return lower(claim.state()) + (claim.amount().empty() ? "" : " " + shown(claim.amount()));
}

std::string step_text(const v1::ClaimStep& step) {
  std::string out = fmt::format("  {}  {}", step.at().substr(0, 10), lower(step.kind()));
  if (!step.outcome().empty()) out += ": " + lower(step.outcome());
  if (!step.amount().empty()) out += " " + shown(step.amount());
  if (!step.clock().empty()) out += ": " + shown(step.clock());
  if (!step.file_name().empty()) out += ": " + shown(step.file_name());
  out += fmt::format("  (entry {})\n", step.leaf_index());
  if (!step.words().empty()) out += folded(shown(step.words()), "      ");
  return out;
}

}  // namespace

std::string claim_line(const v1::Claim& claim) {
  return fmt::format("{}  {}  {:9}  {}{}\n", claim.claim_id(), claim.received().substr(0, 10),
                     lower(claim.state()), reports::shortened(shown(claim.words()), 36),
                     claim.on_hold() ? "" : "  (no evidence hold)");
}

std::string due_lines(const v1::Claim& claim) {
  std::string out;
  for (const auto& due : claim.due()) {
    if (!due.done().empty()) continue;
    const std::string left = due.overdue() ? fmt::format("overdue {} days", -due.days_left())
                                           : fmt::format("in {} days", due.days_left());
    out += fmt::format("{}  {:15}  {}  {} ({})\n", due.due(), left, claim.claim_id(), due.what(),
                       due.origin());
  }
  return out;
}

std::string claim_text(const v1::Claim& claim) {
  std::string out = fmt::format("{}  job {}\n  received {}{}{}\n  state {}\n", claim.claim_id(),
                                claim.job_id(), claim.received().substr(0, 10),
                                claim.sum().empty() ? "" : ", " + shown(claim.sum()),
                                claim.on_hold() ? ", evidence on hold" : "", state_words(claim));
  out += folded("\"" + shown(claim.words()) + "\"", "  ");
  for (const auto& a : claim.allegation())
    out += folded(
        a.kind() + ": " + shown(a.words()) + (a.spot().empty() ? "" : " @ " + shown(a.spot())),
        "  ");
  for (const auto& document : claim.document()) out += folded("document: " + shown(document), "  ");
  for (const auto& step : claim.step()) out += step_text(step);
  if (claim.clock() != "none")
    out += "  due (" + claim.clock() + "; whether it applies is for counsel):\n";
  for (const auto& due : claim.due()) {
    const std::string state = !due.done().empty() ? "done " + due.done()
                              : due.overdue()     ? fmt::format("overdue {} days", -due.days_left())
                                                  : fmt::format("in {} days", due.days_left());
    out += fmt::format("    {}  {}\n", due.due(), state);
    out += folded(due.what() + " (" + due.origin() + ")", "        ");
  }
  return out;
}

}  // namespace fairlead::cli
