// fairlead-bench-report: a claim report of a job with many samples, from its record in memory to
// the finished files, stage by stage as it goes. The floor beside it is the layout program starting
// and laying out one empty page: nothing that prints by it can be quicker.
//
//   fairlead-bench-report [--samples N] [--rounds N] [--tiny]
//
// Exit 1 when two rounds do not give the same bytes, or a page lacks what it must hold.
#include <fmt/core.h>

#include <cmath>

#include "daemon/base/time_text.h"
#include "reports/claim/claim_report.h"
#include "reports/pdf.h"
#include "reports/pictures.h"
#include "tests/bench/measure.h"
#include "tests/unit/reports/sample_job.h"

namespace fairlead::bench {
namespace {

// The sample job with a load cell that reads until `samples` are on record.
reports::JobRecord job_of(size_t samples) {
  reports::JobRecord record = reports::sample_job();
  int64_t at_us = 0;
  uint32_t seq = 0;
  size_t have = 0;
  for (const auto& line : record.lines) {
    have += line.has_sample();
    if (line.source() == "line") seq = std::max(seq, line.seq());
    if (line.has_opened()) at_us = *parse_time_us(line.time());
  }
  v1::Observation line = record.lines.front();
  line.set_source("line");
  for (size_t i = have; i < samples; ++i) {
    line.set_seq(++seq);
    line.set_time(format_time_us(at_us + static_cast<int64_t>(i) * 20'000));
    line.mutable_sample()->set_signal("line.pull");
    line.mutable_sample()->set_value(2000 + 1500 * std::sin(static_cast<double>(i) / 700));
    record.lines.push_back(line);
  }
  return record;
}

struct Made {
  std::string json, html, pdf;
};

Result<Made> make(const reports::JobRecord& record, bool say) {
  const auto table = reports::shipped_allegation_table();
  if (!table) return std::unexpected(table.error());
  Stopwatch all;
  const auto stage = [&](const char* what) {
    if (say) fmt::print("  {:6.2f} s  {}\n", all.wall_s(), what), std::fflush(stdout);
  };
  const auto json = reports::claim_report_json(record, reports::sample_claim(), *table,
                                               reports::sample_options());
  if (!json) return std::unexpected(json.error());
  stage("figures");
  const auto pictures = reports::page_pictures(record.attachments);
  if (!pictures) return std::unexpected(pictures.error());
  stage("pictures");
  auto html = reports::claim_report_html(*json, *pictures);
  if (!html) return std::unexpected(html.error());
  stage("page");
  reports::PdfOptions options;
  options.made_at_us = reports::sample_options().issued_at_us;
  auto laid_out = reports::lay_out_pdf(*html, options);
  if (!laid_out) return std::unexpected(laid_out.error());
  stage("layout");
  auto pdf = reports::finish_pdf(*laid_out, options);
  if (!pdf) return std::unexpected(pdf.error());
  stage("finished PDF");
  return Made{reports::json_bytes(*json), std::move(*html), std::move(*pdf)};
}

int run(std::span<char*> arguments) {
  const bool tiny = flag_option(arguments, "--tiny");
  const auto samples =
      static_cast<size_t>(number_option(arguments, "--samples", tiny ? 4'000 : 100'000));
  const int rounds = std::max(2, number_option(arguments, "--rounds", tiny ? 2 : 3));
  const reports::JobRecord record = job_of(samples);
  fmt::print("claim report of {} lines, {} samples\n", record.lines.size(), samples);
  Stopwatch floor;
  if (!reports::make_pdf("<!DOCTYPE html><title>t</title><p>t</p>", {})) return 1;
  const double floor_s = floor.wall_s();
  std::vector<double> wall;
  std::optional<Made> first;
  for (int i = 0; i < rounds; ++i) {
    Stopwatch watch;
    auto made = make(record, true);
    if (!made) return fmt::print(stderr, "{}\n", made.error().message), 1;
    wall.push_back(watch.wall_s());
    if (first &&
        (first->json != made->json || first->html != made->html || first->pdf != made->pdf))
      return fmt::print(stderr, "round {} gave other bytes\n", i + 1), 1;
    first = std::move(*made);
  }
  if (first->html.find("Line pull") == std::string::npos || !first->pdf.starts_with("%PDF-"))
    return 1;
  fmt::print(
      "one report: {:.2f} s (median of {}); floor (one empty page laid out): {:.2f} s; "
      "html {} kB, pdf {} kB\n",
      median(wall), rounds, floor_s, first->html.size() / 1000, first->pdf.size() / 1000);
  return 0;
}

}  // namespace
}  // namespace fairlead::bench

int main(int count, char** words) {
  return fairlead::bench::run({words, static_cast<size_t>(count)});
}
