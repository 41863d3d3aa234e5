// The vocabulary as people read it.
#include <fmt/format.h>

#include <algorithm>

#include "daemon/judge/vocabulary.h"
#include "daemon/record/observation_words.h"

namespace fairlead::judge {
namespace {

std::string row(std::string_view name, std::string_view says) {
  return says.empty() ? fmt::format("  {}\n", name) : fmt::format("  {:<24} {}\n", name, says);
}

std::string rows(std::span<const Named> names) {
  std::string out;
  for (const Named& one : names) out += row(one.name, one.says);
  return out;
}

constexpr Dimension kAll[] = {
    Dimension::kSpeed,        Dimension::kLength,  Dimension::kForce,       Dimension::kMass,
    Dimension::kVoltage,      Dimension::kCurrent, Dimension::kTemperature, Dimension::kAngle,
    Dimension::kAcceleration, Dimension::kTime,    Dimension::kCount};

// "held until the next line", or how long a reading holds where a rule names no `longest_gap`.
std::string hold_words(const QuantityInfo& info) {
  return info.longest_hole_us == 0 ? "" : fmt::format(" [{} s]", info.longest_hole_us / 1'000'000);
}

}  // namespace

std::string vocabulary_text() {
  std::string out = "Facts: so, not so, or unknown. Each fact F gives the events F.on and F.off.\n";
  out += rows(facts());
  out += "\nFacts with a word behind the colon, as tied:LF:\n" + rows(fact_families());
  out += "\nEvents that happen at once:\n" + rows(momentary_events());
  out += "\nEvents with a word behind the colon, as step.done:S1:\n" + rows(event_families());
  out += fmt::format("  VIEW is one of {},\n  point:ID, wheel:LF (RF, LR, RR), spot:WORDS\n",
                     fmt::join(record::view_names(), ", "));
  out += "\nPhases that are built in:\n";
  out += row("job", "from opened to closed");
  out += row("handling", "as the fact of that name");
  out +=
      "\nQuantities, by the units that a limit on them may have; T marks a total, for\n"
      "total_in_phase; [how long a reading holds, where a rule names no longest_gap]:\n";
  for (const Dimension dimension : kAll) {
    std::string some;
    for (const QuantityInfo& info : quantities()) {
      if (info.dimension == dimension)
        some += "  " + row(fmt::format("{}{}", info.name, info.total ? " T" : ""),
                           fmt::format("{}{}", info.says, hold_words(info)));
    }
    out += fmt::format("  {}: {}\n{}", dimension_name(dimension), unit_names(dimension), some);
  }
  out += "\nFigures that a file gives, with a fallback as \"vehicle.rolling_speed or 5 km/h\":\n";
  for (const std::string_view name : file_field_names())
    out += row(name, dimension_name(*file_field_dimension(name)));
  return out;
}

}  // namespace fairlead::judge
