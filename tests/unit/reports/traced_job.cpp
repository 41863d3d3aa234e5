#include "tests/unit/reports/traced_job.h"

#include <fmt/format.h>
#include <google/protobuf/text_format.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "daemon/judge/judge.h"
#include "daemon/judge/shipped.h"
#include "daemon/record/observation_json.h"

#ifndef FAIRLEAD_SOURCE
#error "FAIRLEAD_SOURCE names the checkout"
#endif

namespace fairlead::reports {
namespace {

[[noreturn]] void give_up(const std::string& what) {
  fmt::print(stderr, "traced job: {}\n", what);
  std::abort();
}

std::string whole(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file) give_up(path.string() + " cannot be read");
  return {std::istreambuf_iterator<char>(file), {}};
}

v1::Observation read_line(const std::string& text) {
  auto line = record::observation_from_line(text);
  if (!line) give_up(line.error().message + "\n" + text);
  return std::move(*line);
}

}  // namespace

JobRecord traced_job(const std::string& name) {
  const std::filesystem::path root = FAIRLEAD_SOURCE;
  JobRecord record;
  record.job_id = name;
  record.number = name;
  std::istringstream trace(whole(root / "tests/traces" / name / "trace.jsonl"));
  for (std::string line; std::getline(trace, line);) {
    if (!line.empty()) record.lines.push_back(read_line(line));
  }
  std::vector<judge::SourceFile> procedures, files;
  for (const auto& line : record.lines) {
    if (!line.has_opened()) continue;
    for (const auto& id : line.opened().procedures()) {
      const auto shipped = judge::shipped_procedure(id);
      if (!shipped) give_up("no shipped procedure " + id);
      procedures.push_back(*shipped);
    }
  }
  for (const char* file : {"vehicles", "gear", "trucks", "sensors"}) {
    files.push_back({file, whole(root / "clients/sim/fleet" / (std::string(file) + ".textproto"))});
    v1::Register more;
    if (!google::protobuf::TextFormat::ParseFromString(files.back().bytes, &more))
      give_up(std::string(file) + " does not read");
    record.register_files.MergeFrom(more);
  }
  const auto rules = judge::Rulebook::load(procedures, files);
  if (!rules) give_up(rules.error().message);
  record.findings = judge::judge_job(*rules, record.lines);
  return record;
}

void add_line(JobRecord& record, const std::string& time, const std::string& kind_json) {
  uint32_t seq = 0;
  const auto& first = record.lines.front();
  for (const auto& line : record.lines) {
    if (line.source() == "operator") seq = std::max(seq, line.seq());
  }
  record.lines.push_back(read_line(fmt::format(
      R"({{"time":"{}T{}Z","job":"{}","source":"operator","seq":{},"clock":"truck",{}}})",
      first.time().substr(0, 10), time, first.job(), seq + 1, kind_json)));
}

}  // namespace fairlead::reports
