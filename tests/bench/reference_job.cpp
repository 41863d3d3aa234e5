#include "tests/bench/reference_job.h"

#include <algorithm>
#include <fstream>
#include <map>
#include <random>

#include "daemon/base/time_text.h"
#include "daemon/record/observation_json.h"

namespace fairlead::bench {
namespace {

constexpr int64_t kStartUs = 1'795'000'000'000'000;  // 2026-11-18.

struct Timed {
  int64_t time_us;
  v1::Observation line;
};

v1::Observation blank(const char* source) {
  v1::Observation o;
  o.set_source(source);
  o.set_clock("truck");
  return o;
}

// Six pulls of 66.67 s, evenly spread; force wanders in steps of 5 N.
void add_pulls(std::vector<Timed>& lines, int64_t start_us, std::mt19937& random) {
  constexpr int kSamples = 20'000, kPulls = 6;
  int64_t newtons = 2'600;
  for (int i = 0; i < kSamples; ++i) {
    const int pull = i * kPulls / kSamples;
    newtons += 5 * (static_cast<int64_t>(random() % 7) - 3);
    newtons = std::clamp<int64_t>(newtons, 600, 8'900);
    auto o = blank("line");
    o.mutable_sample()->set_signal("line.pull");
    o.mutable_sample()->set_value(static_cast<double>(newtons));
    lines.push_back({start_us + (90 + pull * 160) * 1'000'000LL + i * 20'000LL, std::move(o)});
  }
}

void add_volts(std::vector<Timed>& lines, int64_t start_us, std::mt19937& random) {
  for (int i = 0; i < 3'000; ++i) {
    auto o = blank("clamp");
    o.mutable_sample()->set_signal("clamp.volts");
    o.mutable_sample()->set_value(12.6 + static_cast<double>(random() % 41) / 1'000.0);
    lines.push_back({start_us + 30'000'000 + i * 100'000LL, std::move(o)});
  }
}

// A tag at rest: a position that wanders by centimetres, as a real receiver's does.
void add_fixes(std::vector<Timed>& lines, int64_t start_us, std::mt19937& random) {
  double lat = 0.0, lon = 0.0;
  for (int i = 0; i < 7'500; ++i) {
    lat += (static_cast<double>(random() % 7) - 3.0) * 1e-7;
    lon += (static_cast<double>(random() % 7) - 3.0) * 1e-7;
    auto o = blank("gps.tag");
    auto& fix = *o.mutable_fix();
    fix.set_lat_deg(lat);
    fix.set_lon_deg(lon);
    fix.set_speed_mps(static_cast<double>(random() % 90) / 1'000.0);
    fix.set_h_sd_m(1.5 + static_cast<double>(random() % 10) / 10.0);
    fix.set_mode(3);
    lines.push_back({start_us + i * 200'000LL, std::move(o)});
  }
}

}  // namespace

Result<std::vector<v1::Observation>> said_lines(const std::string& source_folder) {
  const std::string file = source_folder + "/tests/traces/J-102/trace.jsonl";
  std::ifstream in(file);
  if (!in) return fail(Code::kIo, file + ": cannot be read; give --source the checkout's folder");
  std::vector<v1::Observation> said;
  for (std::string text; std::getline(in, text);) {
    auto line = record::observation_from_line(text);
    if (!line) return fail_at(file + ": ", line.error());
    if (!line->has_sample() && !line->has_fix()) said.push_back(std::move(*line));
  }
  return said;
}

std::vector<v1::Observation> reference_job(const std::vector<v1::Observation>& said,
                                           const std::string& job, uint32_t number,
                                           uint32_t first_seq) {
  std::mt19937 random(number);
  const int64_t start_us = kStartUs + number * 2 * kJobLengthUs;
  std::vector<Timed> lines;
  const int64_t from_us = *parse_time_us(said.front().time());
  const int64_t span_us = *parse_time_us(said.back().time()) - from_us;
  for (const auto& line : said) {
    // The reference job's own length, whatever the trace's.
    const int64_t at_us = *parse_time_us(line.time()) - from_us;
    lines.push_back(
        {start_us + at_us / 1'000 * (kJobLengthUs / 1'000) / (span_us / 1'000) * 1'000, line});
    lines.back().line.set_job(job);
  }
  add_pulls(lines, start_us, random);
  add_volts(lines, start_us, random);
  add_fixes(lines, start_us, random);
  std::ranges::stable_sort(lines, {}, &Timed::time_us);
  // The job's last word comes last.
  std::ranges::stable_partition(lines, [](const Timed& t) { return !t.line.has_closed(); });
  std::map<std::string, uint32_t> seqs;
  std::vector<v1::Observation> out;
  for (auto& [time_us, line] : lines) {
    line.set_time(format_time_us(std::min(time_us, start_us + kJobLengthUs)));
    line.set_seq(first_seq + seqs[line.source()]++);
    out.push_back(std::move(line));
  }
  return out;
}

}  // namespace fairlead::bench
