// fairlead-bench-judge: the reference job under every shipped procedure and the fleet's files,
// beside its floor, one plain pass over the same parsed lines that keeps a maximum and a sum, in
// turns. Prints events per second, CPU-seconds per million values and the ratio. --procedure judges
// by that one alone; --long judges one job of 8 hours with 1.2 M readings of the pull. --live
// judges one job while it runs, each SECONDS of its time (1), and prints what a judging then takes.
//
//   fairlead-bench-judge [--jobs N] [--rounds N] [--procedure ID] [--long] [--live SECONDS]
//   [--source CHECKOUT] [--tiny]
//
// Exit 1 when two rounds do not give the same findings, or a running job others than its lines at
// once.
#include <fmt/core.h>

#include <filesystem>
#include <fstream>

#include "daemon/base/time_text.h"
#include "daemon/judge/judge.h"
#include "tests/bench/judge_live.h"
#include "tests/bench/measure.h"
#include "tests/bench/reference_job.h"

namespace fairlead::bench {
namespace {

namespace fs = std::filesystem;
using Lines = std::vector<v1::Observation>;

std::vector<judge::SourceFile> files_in(const fs::path& folder, const std::string& only = "") {
  std::vector<judge::SourceFile> files;
  std::error_code error;
  for (const auto& file : fs::directory_iterator(folder, error)) {
    if (file.path().extension() != ".textproto") continue;
    if (!only.empty() && file.path().stem() != only) continue;
    std::ifstream in(file.path(), std::ios::binary);
    files.push_back({file.path().filename().string(),
                     {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()}});
  }
  std::ranges::sort(files, {}, &judge::SourceFile::name);
  return files;
}

struct Pass {
  double most = 0, sum = 0;
};

// What any judge must at least do: touch every line once.
Pass plain_pass(const Lines& lines) {
  Pass pass;
  for (const auto& o : lines) {
    const double value = o.has_sample() ? o.sample().value()
                         : o.has_fix()  ? o.fix().speed_mps()
                                        : 0.0;
    pass.most = std::max(pass.most, value);
    pass.sum += value;
  }
  return pass;
}

struct Judged {
  double judge_cpu_s = 0, floor_cpu_s = 0;
  std::string findings;  // Every line of every job.
  size_t count = 0;
  Pass pass;
};

Judged round_of(const judge::Rulebook& rulebook, const std::vector<Lines>& jobs) {
  Judged judged;
  for (const auto& lines : jobs) {
    const Stopwatch judging;
    const auto findings = judge::judge_job(rulebook, lines);
    judged.judge_cpu_s += judging.cpu_s();
    for (const auto& finding : findings) judged.findings += judge::finding_to_json(finding) + "\n";
    judged.count += findings.size();
    const Stopwatch passing;
    const auto pass = plain_pass(lines);
    judged.floor_cpu_s += passing.cpu_s();
    judged.pass.most = std::max(judged.pass.most, pass.most);
    judged.pass.sum += pass.sum;
  }
  return judged;
}

constexpr int kLongSamples = 1'200'000;

// What people said in the reference job, over 8 hours, and the pull read every 24 ms.
Lines long_job(const Lines& said) {
  constexpr int64_t kHoursUs = 8 * 3'600'000'000LL;
  Lines job = reference_job(said, "long", 0);
  std::erase_if(job, [](const auto& line) { return line.has_sample() || line.has_fix(); });
  const int64_t start_us = *parse_time_us(job.front().time());
  job.back().set_time(format_time_us(start_us + kHoursUs));
  for (int i = 0; i < kLongSamples; ++i) {
    v1::Observation& line = job.emplace_back();
    line.set_source("line");
    line.set_clock("truck");
    line.set_seq(static_cast<uint32_t>(i) + 1);
    line.set_time(format_time_us(start_us + kHoursUs / kLongSamples * i));
    line.mutable_sample()->set_signal("line.pull");
    line.mutable_sample()->set_value(2'600 + i % 7 * 5);
  }
  return job;
}

std::string findings_of(const judge::Rulebook& rulebook, const Lines& lines) {
  std::string text;
  for (const auto& finding : judge::judge_job(rulebook, lines))
    text += judge::finding_to_json(finding) + "\n";
  return text;
}

Status run_while_it_runs(const judge::Rulebook& rulebook, const Lines& lines, int every_s) {
  Lines in_order = lines;
  std::ranges::stable_sort(in_order, {}, &v1::Observation::time);
  LiveCost cost = run_live(rulebook, in_order, every_s * 1'000'000LL);
  if (cost.findings != findings_of(rulebook, lines))
    return fail(Code::kInternal, "the running job gave other findings than its lines at once");
  double add_s = 0, judge_s = 0;
  for (const double one : cost.add_s) add_s += one;
  for (const double one : cost.judge_s) judge_s += one;
  std::ranges::sort(cost.judge_s);
  const auto share = [&](size_t percent) {
    return cost.judge_s[(cost.judge_s.size() - 1) * percent / 100] * 1e3;
  };
  fmt::print("{} events, judged {} times while they came, read anew {} times\n", lines.size(),
             cost.judge_s.size(), cost.readings);
  fmt::print("taking a line  {:.2f} us\n", add_s * 1e6 / static_cast<double>(lines.size()));
  fmt::print("a judging      {:.2f} ms p50, {:.2f} ms p90, {:.2f} ms p99, {:.2f} ms most\n",
             share(50), share(90), share(99), share(100));
  fmt::print("all of them    {:.2f} s, {:.2f} s of it taking lines\n", add_s + judge_s, add_s);
  fmt::print("state          {:.1f} MiB, {} bytes a line\n",
             static_cast<double>(cost.state_bytes) / (1 << 20), cost.state_bytes / lines.size());
  return {};
}

Status run(std::span<char*> arguments) {
  const bool tiny = flag_option(arguments, "--tiny");
  const int job_count = number_option(arguments, "--jobs", tiny ? 1 : 8);
  const int rounds = number_option(arguments, "--rounds", tiny ? 2 : 5);
  if (job_count < 1 || rounds < 1) {
    return fail(Code::kBadInput, "--jobs and --rounds: give whole numbers from 1");
  }
  const std::string source = text_option(arguments, "--source", ".");
  const auto said = said_lines(source);
  if (!said) return std::unexpected(said.error());
  const auto rulebook = judge::Rulebook::load(
      files_in(source + "/daemon/judge/procedures", text_option(arguments, "--procedure", "")),
      files_in(source + "/clients/sim/fleet"));
  if (!rulebook) return std::unexpected(rulebook.error());
  std::vector<Lines> jobs;
  size_t events = 0;
  const bool longer = flag_option(arguments, "--long");
  if (longer) jobs.push_back(long_job(*said));
  for (int j = 0; j < job_count && !longer; ++j)
    jobs.push_back(reference_job(*said, "job-" + std::to_string(j), static_cast<uint32_t>(j)));
  for (const Lines& job : jobs) events += job.size();
  if (const int every_s = number_option(arguments, "--live", tiny ? 300 : 0); every_s > 0) {
    if (auto ok = run_while_it_runs(*rulebook, jobs.front(), every_s); !ok || !tiny) return ok;
  }
  const auto values = longer ? kLongSamples : static_cast<double>(kValuesAJob * jobs.size());
  std::vector<double> ours, floors;
  std::string findings;
  size_t count = 0;
  for (int round = 0; round < rounds; ++round) {
    const auto judged = round_of(*rulebook, jobs);
    if (round > 0 && judged.findings != findings) {
      return fail(Code::kInternal, "two rounds gave different findings");
    }
    if (judged.count == 0 || judged.pass.most <= 0)
      return fail(Code::kInternal, "nothing was judged");
    findings = judged.findings;
    count = judged.count;
    ours.push_back(judged.judge_cpu_s);
    floors.push_back(judged.floor_cpu_s);
  }
  fmt::print("{} jobs, {} events, {} findings, {} rounds in turns\n", jobs.size(), events, count,
             rounds);
  const auto print = [&](const char* what, double cpu_s) {
    fmt::print("{:7} {:.3f} M events/s, {:.4f} CPU-s/1M values\n", what,
               static_cast<double>(events) / cpu_s / 1e6, cpu_s * 1e6 / values);
  };
  print("judge", median(ours));
  print("floor", median(floors));
  fmt::print("a job   {:.3f} CPU-s\n", median(ours) / static_cast<double>(jobs.size()));
  fmt::print("ratio   {:.1f} times the floor's CPU\n", median(ours) / median(floors));
  return {};
}

}  // namespace
}  // namespace fairlead::bench

int main(int count, char** arguments) {
  const auto done = fairlead::bench::run({arguments, static_cast<size_t>(count)});
  if (done) return 0;
  fmt::print(stderr, "fairlead-bench-judge: {}\n", done.error().message);
  return 1;
}
