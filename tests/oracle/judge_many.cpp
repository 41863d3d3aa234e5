// Judges many small cases in one process, for the comparison with the naive evaluator: a line
// "TRACE<tab>PROCEDURE[,PROCEDURE...][<tab>REGISTER...]" in, its findings as JSON lines and an
// empty line out;
// "!" and a message where the case is refused.
#include <fstream>
#include <iostream>
#include <sstream>

#include "daemon/judge/judge.h"
#include "daemon/record/observation_json.h"

namespace {

using namespace fairlead;

std::string bytes_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream bytes;
  bytes << in.rdbuf();
  return bytes.str();
}

void judge_case(const std::vector<std::string>& paths) {
  std::vector<judge::SourceFile> registers;
  for (size_t i = 2; i < paths.size(); ++i) registers.push_back({paths[i], bytes_of(paths[i])});
  std::vector<judge::SourceFile> procedures;
  std::istringstream names(paths[1]);
  for (std::string path; std::getline(names, path, ',');)
    procedures.push_back({path, bytes_of(path)});
  const auto rulebook = judge::Rulebook::load(procedures, registers);
  if (!rulebook) {
    std::cout << "!" << rulebook.error().message.substr(0, rulebook.error().message.find('\n'))
              << '\n'
              << std::flush;
    return;
  }
  std::vector<v1::Observation> lines;
  std::istringstream trace(bytes_of(paths[0]));
  for (std::string text; std::getline(trace, text);) {
    if (text.empty()) continue;
    auto line = record::observation_from_line(text);
    if (!line) {
      std::cout << "!" << line.error().message << '\n' << std::flush;
      return;
    }
    lines.push_back(std::move(*line));
  }
  std::string out;
  for (const judge::Finding& finding : judge::judge_job(*rulebook, lines))
    out += judge::finding_to_json(finding) + "\n";
  std::cout << out << '\n' << std::flush;
}

}  // namespace

int main() {
  for (std::string line; std::getline(std::cin, line);) {
    std::vector<std::string> paths;
    std::istringstream parts(line);
    for (std::string path; std::getline(parts, path, '\t');) paths.push_back(path);
    if (paths.size() < 2) {
      std::cout << "!give TRACE<tab>PROCEDURE[<tab>REGISTER]" << '\n' << std::flush;
      continue;
    }
    judge_case(paths);
  }
  return 0;
}
