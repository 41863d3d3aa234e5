#include "tests/unit/judge/judge_kit.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <numeric>
#include <random>
#include <sstream>

#include "daemon/base/time_text.h"
#include "daemon/judge/procedure_sense.h"
#include "daemon/record/observation_json.h"

namespace fairlead::judge {
namespace {

std::vector<std::string> split_lines(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) lines.push_back(line);
  return lines;
}

}  // namespace

v1::Observation line_at(double second, const std::string& source, uint32_t seq,
                        const std::string& kind) {
  const int64_t start_us = *parse_time_us("2026-03-02T10:00:00Z");
  const std::string text =
      fmt::format(R"({{"time":"{}","job":"job-1","source":"{}","seq":{},"clock":"truck",{}}})",
                  format_time_us(start_us + std::llround(second * 1e6)), source, seq, kind);
  auto line = record::observation_from_line(text);
  EXPECT_TRUE(line) << text << "\n" << (line ? "" : line.error().message);
  return line ? std::move(*line) : v1::Observation();
}

v1::Observation opened_line() {
  return line_at(0, "operator", 1,
                 R"("opened":{"procedures":["test"],"vehicle":"car","truck":"truck-1",)"
                 R"("operator":"card-1"})");
}

v1::Observation closed_line(double second, uint32_t last_seq) {
  return line_at(second, "operator", last_seq, R"("closed":{"outcome":"SIGNED"})");
}

v1::Observation speed_line(double second, uint32_t seq, double mps, double sd_mps) {
  return line_at(second, "gps.tag", seq,
                 fmt::format(R"("fix":{{"latDeg":44.5,"lonDeg":-30,"speedMps":{},"hSdM":2.5,)"
                             R"("speedSdMps":{},"mode":3}})",
                             mps, sd_mps));
}

std::string rule_head(const std::string& id) {
  return fmt::format(
      "id: \"{0}\" title: \"{0}\" origin {{ text: \"common practice, no source\" "
      "standing: PRACTICE }} ",
      id);
}

Rulebook rulebook_of(const std::string& rules) {
  const std::string text =
      "id: \"test\" version: \"1.0\" title: \"test\"\n"
      "phase { id: \"rolling\" opens: \"rolling.on\" closes: \"rolling.off\" longest: \"5 min\" }\n"
      "phase { id: \"driving\" opens: \"truck.moving.on\" closes: \"truck.moving.off\" "
      "longest: \"4 h\" }\n" +
      rules;
  auto loaded = Rulebook::load({{"test.textproto", text}}, {});
  EXPECT_TRUE(loaded) << (loaded ? "" : loaded.error().message);
  return *loaded;
}

std::string told(const Finding& finding) {
  if (finding.applies == Applies::kNo) return "no";
  std::string text = finding.applies == Applies::kUnknown ? "unknown" : word(finding.verdict);
  if (finding.verdict == Verdict::kUnproven) text += fmt::format("({})", word(finding.reason));
  if (finding.applies == Applies::kUnknown) return text;
  for (const Bound& bound : {finding.margin_lo, finding.margin_best, finding.margin_hi})
    text += " " + bound.value_or("-");
  return text + " " + finding.unit;
}

std::string sentence_of(const Finding& finding) {
  return finding.sentence.substr(0, finding.sentence.find("; procedure"));
}

Finding judged_form(const std::string& form, const Lines& lines, const std::string& phases) {
  const std::vector<Finding> found =
      judge_job(rulebook_of(phases + "rule { " + rule_head("r") + form + " }"), lines);
  EXPECT_FALSE(found.empty());
  return found.empty() ? Finding{} : found.front();
}

std::vector<std::string> with_each_lost(const std::string& form, const Lines& lines,
                                        const std::string& phases) {
  std::map<std::string, std::pair<uint32_t, uint32_t>> ends;
  for (const v1::Observation& line : lines) {
    auto& [first, last] = ends.try_emplace(line.source(), line.seq(), line.seq()).first->second;
    first = std::min(first, line.seq());
    last = std::max(last, line.seq());
  }
  std::vector<std::string> found;
  for (const v1::Observation& lost : lines) {
    const auto& [first, last] = ends.at(lost.source());
    if (lost.seq() == first || lost.seq() == last) continue;
    Lines rest;
    for (const v1::Observation& line : lines) {
      if (line.source() != lost.source() || line.seq() != lost.seq()) rest.push_back(line);
    }
    found.push_back(
        fmt::format("{} {}: {}", lost.source(), lost.seq(), told(judged_form(form, rest, phases))));
  }
  return found;
}

void expect_any_order(const std::string& form, const Lines& lines, const std::string& phases) {
  const Rulebook rules = rulebook_of(phases + "rule { " + rule_head("r") + form + " }");
  const std::string expected = finding_to_json(judge_job(rules, lines).at(0));
  std::vector<size_t> order(lines.size());
  std::iota(order.begin(), order.end(), size_t{0});
  std::mt19937_64 random(20260302);
  const bool all = lines.size() <= 7;
  for (int round = 0; all || round < 2000; ++round) {
    if (!all) std::shuffle(order.begin(), order.end(), random);
    Lines mixed;
    for (const size_t i : order) mixed.push_back(lines[i]);
    ASSERT_EQ(finding_to_json(judge_job(rules, mixed).at(0)), expected) << "round " << round;
    if (all && !std::next_permutation(order.begin(), order.end())) return;
  }
}

std::vector<std::string> procedure_problems(const std::string& text) {
  const auto loaded = Rulebook::load({{"p.textproto", text}}, {});
  auto problems = loaded ? std::vector<std::string>{} : split_lines(loaded.error().message);
  for (std::string& one : senseless_rules({"p.textproto", text}))
    problems.push_back(std::move(one));
  return problems;
}

std::vector<std::string> register_problems(const std::string& text) {
  const auto loaded = Rulebook::load({}, {{"r.textproto", text}});
  return loaded ? std::vector<std::string>{} : split_lines(loaded.error().message);
}

std::string read_file(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  EXPECT_TRUE(in) << path;
  std::ostringstream bytes;
  bytes << in.rdbuf();
  return bytes.str();
}

std::vector<SourceFile> files_in(const std::string& folder) {
  std::vector<SourceFile> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    if (entry.path().extension() == ".textproto")
      files.push_back({entry.path().string(), read_file(entry.path().string())});
  }
  std::sort(files.begin(), files.end(),
            [](const SourceFile& a, const SourceFile& b) { return a.name < b.name; });
  return files;
}

}  // namespace fairlead::judge
