#include "tests/unit/judge/judge_kit.h"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "daemon/base/time_text.h"
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

std::vector<std::string> procedure_problems(const std::string& text) {
  const auto loaded = Rulebook::load({{"p.textproto", text}}, {});
  return loaded ? std::vector<std::string>{} : split_lines(loaded.error().message);
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
