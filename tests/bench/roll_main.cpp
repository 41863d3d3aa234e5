// fairlead-bench-roll: the roll estimator on simulated pulls, one row of Markdown a stratum.
//
//   fairlead-bench-roll [--runs N] [--stratum NAME] [--speed] [--tuning] [--head] [--list]
//
// --speed is about the speed of the pulls instead of the way; --tuning takes other seeds than the
// table in docs/roll.md has; --head prints the table's head, --list the names of the strata.
// docs/roll.md explains the columns.
#include <fmt/core.h>

#include "tests/bench/measure.h"
#include "tests/bench/roll_speed.h"
#include "tests/bench/roll_strata.h"

namespace fairlead::bench {
namespace {

constexpr uint64_t kTuningSeeds = 2'000'000'000;

double chi_square(const StratumSums& sums) {
  double total = 0, chi = 0;
  for (const int count : sums.ranks) total += count;
  for (const int count : sums.ranks) {
    const double even = total / kRanks, off = count - even;
    chi += even > 0 ? off * off / even : 0.0;
  }
  return chi;
}

std::string percent(int part, int whole) {
  return whole == 0 ? "-" : fmt::format("{:.1f}", 100 * StratumSums::share(part, whole));
}

void print_row(const Stratum& stratum, const StratumSums& sums) {
  const double rmse = sums.root(sums.square);
  fmt::print(
      "| {} | {} | {} | {} | {} | {} | {} | {} | {:+.2f} | {:.2f} | {:.2f} | {:.0f} | {:.1f} | "
      "{:.1f} | {:.1f} | "
      "{:.2f} | {} | {} | {} | {} | {} | {:.1f} |\n",
      stratum.name, stratum.in_model ? "in" : "out", sums.runs,
      percent(sums.runs - sums.unsolved - sums.bare_below - sums.bare_above, sums.runs),
      percent(sums.bare_below, sums.runs), percent(sums.bare_above, sums.runs),
      percent(sums.runs - sums.unsolved - sums.truth_below - sums.truth_above, sums.runs),
      percent(sums.truth_above, sums.runs), sums.off / sums.runs, rmse, sums.width / sums.runs,
      sums.root(sums.sum_square) / rmse, sums.root(sums.net_square) / rmse,
      sums.root(sums.gated_square) / rmse, sums.root(sums.guarded_square) / rmse,
      sums.root(sums.vector_square) / rmse, percent(sums.near_covered, sums.near),
      percent(sums.deviated_inside, sums.inside), percent(sums.met_outside, sums.outside),
      percent(sums.undecided, sums.runs), fmt::format("{:.1f}", chi_square(sums)),
      1000 * sums.cpu_s / sums.runs);
}

void print_speed_row(const Stratum& stratum, const SpeedSums& sums) {
  fmt::print("| {} | {} | {} | {:+.3f} | {:+.3f} | {:.3f} | {} | {} | {} | {} | {} | {} |\n",
             stratum.name, sums.jobs, sums.means, sums.length_off / sums.means,
             sums.off / sums.means, std::sqrt(sums.square / sums.means),
             percent(sums.covered_stated, sums.means), percent(sums.pulls_accused, sums.pulls),
             percent(sums.pulls_cleared, sums.pulls), percent(sums.accused_stated, sums.jobs),
             percent(sums.covered_default, sums.means), percent(sums.accused_default, sums.jobs));
}

void print_head(bool speed) {
  if (speed) {
    fmt::print(
        "| stratum | runs | means of 1 s | bias of the length m/s | bias m/s | RMSE m/s | s.d. "
        "stated: covered % | pulls accused % | pulls cleared % | jobs accused % | s.d. 0.2 m/s: "
        "covered % | jobs accused % |\n"
        "|---|---|---|---|---|---|---|---|---|---|---|---|\n");
    return;
  }
  fmt::print(
      "| stratum | model | runs | noise alone: covered % | truth below % | truth above % | with "
      "allowances: covered % | truth above % | bias m | RMSE m | half-width m | sum of fixes x | "
      "net fix x | gated speed x | with guard x | vector x | covered 9-11 m % | deviated, inside % "
      "| met, outside % | undecided % | ranks chi2(9) | CPU ms |\n"
      "|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|"
      "\n");
}

int run(std::span<char*> arguments) {
  if (flag_option(arguments, "--list")) {
    for (const Stratum& stratum : roll_strata()) fmt::print("{}\n", stratum.name);
    return 0;
  }
  const bool speed = flag_option(arguments, "--speed");
  if (flag_option(arguments, "--head")) {
    print_head(speed);
    return 0;
  }
  const uint64_t seeds = flag_option(arguments, "--tuning") ? kTuningSeeds : kTableSeeds;
  const int runs = number_option(arguments, "--runs", 200);
  const std::string_view wanted = text_option(arguments, "--stratum", "");
  bool any = false;
  for (size_t i = 0; i < roll_strata().size(); ++i) {
    if (!wanted.empty() && wanted != roll_strata()[i].name) continue;
    const Stratum& stratum = roll_strata()[i];
    if (speed) {
      print_speed_row(stratum, run_speeds(stratum, i, runs, seeds));
    } else {
      print_row(stratum, run_stratum(stratum, i, runs, seeds));
    }
    std::fflush(stdout);
    any = true;
  }
  if (any) return 0;
  fmt::print(stderr, "no stratum '{}'; --list names them\n", wanted);
  return 1;
}

}  // namespace
}  // namespace fairlead::bench

int main(int argc, char** argv) { return fairlead::bench::run({argv, static_cast<size_t>(argc)}); }
