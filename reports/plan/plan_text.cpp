#include <fmt/format.h>

#include <cmath>
#include <sstream>

#include "reports/plan/plan_report.h"

namespace fairlead::reports {
namespace {

using plan::Interval;
using plan::Verdict;

constexpr size_t kColumns = 80;

int decimals_of(const std::string& unit) {
  if (unit == "m" || unit == "g") return 2;
  if (unit == "kN" || unit == "deg") return 1;
  return 0;
}

enum class Round { kDown, kNearest, kUp };
std::string number(double value, int decimals, Round round, bool sign) {
  const double scale = std::pow(10, decimals);
  // A hair of floating error must not carry a printed bound a whole digit outward.
  constexpr double kHair = 1e-6;
  double scaled = value * scale;
  scaled = round == Round::kDown ? std::floor(scaled + kHair)
           : round == Round::kUp ? std::ceil(scaled - kHair)
                                 : std::floor(scaled + 0.5);
  const double shown = scaled == 0 ? 0 : scaled / scale;
  return sign ? fmt::format("{:+.{}f}", shown, decimals) : fmt::format("{:.{}f}", shown, decimals);
}

std::string range_text(const Interval& x, int decimals, bool sign) {
  if (physics::is_exact(x)) return number(x.lo, decimals, Round::kNearest, sign);
  const std::string lo = std::isfinite(x.lo) ? number(x.lo, decimals, Round::kDown, sign) : "";
  const std::string hi = std::isfinite(x.hi) ? number(x.hi, decimals, Round::kUp, sign) : "";
  if (lo.empty()) return hi.empty() ? "not known" : "at most " + hi;
  return hi.empty() ? lo + " or more" : lo + " to " + hi;
}

// Words broken between spaces; the first line begins with `head`, the others with spaces.
void wrapped(std::string& out, const std::string& head, const std::string& words) {
  const std::string indent(head.size(), ' ');
  std::string line = head;
  std::istringstream in(words);
  bool begun = false;
  for (std::string word; in >> word;) {
    if (begun && line.size() + 1 + word.size() > kColumns) {
      out += line + "\n";
      line = indent + word;
    } else {
      line += (begun ? " " : "") + word;
    }
    begun = true;
  }
  out += line + "\n";
}

void add_check(std::string& out, const plan::PlanCheck& check) {
  const physics::Check& c = check.check;
  const std::string verdict = c.decides ? std::string(physics::word_of(c.verdict)) : "(shown)";
  wrapped(out, fmt::format("{:<9} {:<39} ", verdict, c.what), margin_text(check));
  const int places = decimals_of(c.unit);
  std::string why;
  if (std::isfinite(c.have.lo) || std::isfinite(c.have.hi))
    why = fmt::format("{} of {} {}", range_text(c.have, places, false),
                      range_text(c.need, places, false), c.unit);
  for (const std::string& part : {c.origin, c.words})
    if (!part.empty()) why += (why.empty() ? "" : "; ") + part;
  if (c.standing == physics::Standing::kMemory || c.standing == physics::Standing::kSecondary)
    why += fmt::format(" [{}]", physics::word_of(c.standing));
  if (!why.empty()) wrapped(out, "          ", why);
}

std::string kilonewtons(const Interval& newtons) { return range_text(newtons * 1e-3, 1, false); }

void add_line(std::string& out, const plan::LinePlan& line) {
  out += "\nThe line\n";
  wrapped(out, "  ",
          fmt::format("pull of the free-rolling car: {} kN; with locked wheels: {} kN. "
                      "If the pull rises towards that, stop: a wheel does not turn.",
                      kilonewtons(line.rolling_n), kilonewtons(line.locked_n)));
  if (!line.points.empty())
    wrapped(out, "  ",
            fmt::format("at {} with {}", fmt::join(line.points, " and "),
                        line.gear.empty() ? "no gear that is allowed there"
                                          : fmt::format("{}", fmt::join(line.gear, " and "))));
  if (line.first_layer > 0)
    wrapped(out, "  ",
            line.first_layer == line.last_layer
                ? fmt::format("drum layer {}", line.first_layer)
                : fmt::format("drum layers {} to {}", line.first_layer, line.last_layer));
  wrapped(out, "  ",
          line.parts_suffice ? fmt::format("{} line part{} suffice{}", line.parts,
                                           line.parts == 1 ? "" : "s", line.parts == 1 ? "s" : "")
                             : std::string("no number of line parts within reach suffices"));
}

}  // namespace

std::string_view fits_word(Verdict fits) {
  return fits == Verdict::kMet ? "yes" : fits == Verdict::kDeviated ? "no" : "not shown";
}

std::string margin_text(const plan::PlanCheck& check) {
  const physics::Check& c = check.check;
  const int places = decimals_of(c.unit);
  const std::string range = range_text(c.margin, places, true);
  if (!check.best || physics::is_exact(c.margin)) {
    const bool bare = range == "not known";
    return bare ? range : fmt::format("{} {}", range, c.unit);
  }
  return fmt::format("{} {} ({})", number(*check.best, places, Round::kNearest, true), c.unit,
                     range);
}

std::string plan_text(const plan::Plan& plan) {
  std::string out;
  const auto named = [](const std::string& title, const std::string& id) {
    return title.empty() ? id : fmt::format("{} ({})", title, id);
  };
  wrapped(out, "",
          fmt::format("{} on {}", named(plan.vehicle_title, plan.vehicle),
                      named(plan.truck_title, plan.truck)));
  out += fmt::format("Fits: {}\n", fits_word(plan.fits));
  for (const std::string& change : plan.changes)
    wrapped(out, &change == &plan.changes.front() ? "Smallest change: " : "  and: ", change);
  wrapped(out, "",
          fmt::format("Securement by {} ({}): {}", plan.rules_title, plan.rules, plan.rules_from));
  out += "\nMargins, best figure and range; positive is inside the limit\n";
  for (const plan::PlanCheck& check : plan.checks) add_check(out, check);
  add_line(out, plan.line);
  if (!plan.straps.empty()) {
    out += "\nFewest and weakest tiedowns the truck carries that suffice, or its strongest\n";
    for (const plan::StrapUse& strap : plan.straps)
      out += fmt::format("  {}  {:<28} {:>6.0f} kg, credit {:>5.0f} kg, {:>3.0f} % of the sum\n",
                         strap.wheel, strap.gear, strap.wll_kg, strap.credit_kg, strap.share * 100);
  }
  if (!plan.notes.empty()) out += "\nTaken as given, or left out\n";
  for (const std::string& note : plan.notes) wrapped(out, "  - ", note);
  if (!plan.steps.empty()) out += "\nWhat the procedure will ask; (!) cautions, said once\n";
  std::string procedure;
  size_t n = 0;
  for (const plan::PlanStep& step : plan.steps) {
    if (step.procedure != procedure) out += fmt::format("  {}\n", step.procedure), n = 0;
    procedure = step.procedure;
    wrapped(out, fmt::format("  {:>3}. ", ++n), step.say);
    for (const std::string& caution : step.cautions) wrapped(out, "       (!) ", caution);
  }
  out += "\n";
  wrapped(out, "",
          "Arithmetic on what the files say. The makers' guides, local rules and licensed "
          "practice go first; not legal advice. Look at the car before you touch it.");
  return out;
}

}  // namespace fairlead::reports
