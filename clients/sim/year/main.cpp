// fairlead-sim-year: a year of the invented fleet as a base's data folder.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <chrono>

#include "clients/sim/year/make.h"
#include "daemon/base/time_text.h"

int main(int argc, char** argv) {
  using namespace fairlead;
  CLI::App app("A year of the invented fleet: 12 trucks, their jobs, deviations at known rates",
               "fairlead-sim-year");
  sim::YearPlan plan;
  sim::YearFiles files;
  std::string from = "2025-11-01", source = ".", data;
  app.add_option("DATA", data, "Folder to make; a base starts on it: data = \"DATA\"")->required();
  app.add_option("--jobs", plan.jobs, "How many")->capture_default_str();
  app.add_option("--seed", plan.seed, "The same seed draws the same year")->capture_default_str();
  app.add_option("--from", from, "First day")->capture_default_str();
  app.add_option("--days", plan.days, "How long")
      ->check(CLI::Range(7, 3660))
      ->capture_default_str();
  app.add_option("--source", source, "The source tree, for traces, fleet and procedures")
      ->capture_default_str();
  app.footer(
      "Example:\n  fairlead-sim-year year --jobs 2000\n"
      "truth.json in the folder says what was drawn and what a summary must find.");
  CLI11_PARSE(app, argc, argv);
  const auto day = parse_date_us(from);
  if (!day) {
    fmt::print(stderr, "fairlead-sim-year: --from: '{}' is no date; write 2025-11-01\n", from);
    return 1;
  }
  plan.from_us = *day;
  const std::filesystem::path top = source;
  files.data = data;
  files.traces = top / "tests/traces";
  files.fleet = top / "clients/sim/fleet";
  files.procedures = top / "daemon/judge/procedures";
  const auto begun = std::chrono::steady_clock::now();
  const auto done = sim::make_year(plan, files, [&](const std::string& words) {
    const auto s = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
    fmt::print("[{:5.1f} s] {}\n", s, words);
    std::fflush(stdout);
  });
  if (done) return 0;
  fmt::print(stderr, "fairlead-sim-year: {}\n", done.error().message);
  return 1;
}
