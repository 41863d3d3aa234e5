// Judges many small cases in one process, for the comparison with the naive evaluator: a line
// "TRACE<tab>PROCEDURE[,PROCEDURE...][<tab>REGISTER...]" in, its findings as JSON lines and an
// empty line out;
// "!" and a message where the case is refused.
//
// With --live each case is also judged while it runs, line by line, in the order of the file and in
// another one: "!" and where, should that say anything else than all lines judged at once.
#include <algorithm>
#include <fstream>
#include <iostream>
#include <random>
#include <sstream>

#include "daemon/judge/judge.h"
#include "daemon/judge/live_job.h"
#include "daemon/record/observation_json.h"

namespace {

using namespace fairlead;

std::string bytes_of(const std::string& path) {
  std::ifstream in(path, std::ios::binary);
  std::ostringstream bytes;
  bytes << in.rdbuf();
  return bytes.str();
}

using Lines = std::vector<v1::Observation>;

std::string text_of(const std::vector<judge::Finding>& findings) {
  std::string out;
  for (const judge::Finding& finding : findings) out += judge::finding_to_json(finding) + "\n";
  return out;
}

// Where a running job says something else than its lines so far; 0: nowhere.
size_t first_difference(const judge::Rulebook& rulebook, const Lines& lines) {
  constexpr size_t kMostSteps = 60;
  const size_t step = lines.size() / kMostSteps + 1;
  judge::LiveJob live(rulebook);
  for (size_t i = 0; i < lines.size(); ++i) {
    live.add(lines[i]);
    if (i % step != 0 && i + 1 < lines.size()) continue;
    const std::span<const v1::Observation> so_far(lines.data(), i + 1);
    if (text_of(live.judge().findings) != text_of(judge::judge_job(rulebook, so_far))) return i + 1;
  }
  return 0;
}

bool same_while_running(const judge::Rulebook& rulebook, Lines lines) {
  for (const char* order : {"file", "another"}) {
    if (const size_t at = first_difference(rulebook, lines); at != 0) {
      std::cout << "!live: another finding in the order of " << order << " with line " << at << '\n'
                << std::flush;
      return false;
    }
    std::shuffle(lines.begin(), lines.end(), std::mt19937_64(lines.size()));
  }
  return true;
}

void judge_case(const std::vector<std::string>& paths, bool live) {
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
  Lines lines;
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
  if (live && !same_while_running(*rulebook, lines)) return;
  std::cout << text_of(judge::judge_job(*rulebook, lines)) << '\n' << std::flush;
}

}  // namespace

int main(int count, char** arguments) {
  const bool live = count > 1 && std::string_view(arguments[1]) == "--live";
  for (std::string line; std::getline(std::cin, line);) {
    std::vector<std::string> paths;
    std::istringstream parts(line);
    for (std::string path; std::getline(parts, path, '\t');) paths.push_back(path);
    if (paths.size() < 2) {
      std::cout << "!give TRACE<tab>PROCEDURE[<tab>REGISTER]" << '\n' << std::flush;
      continue;
    }
    judge_case(paths, live);
  }
  return 0;
}
