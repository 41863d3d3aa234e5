#include "clients/cli/cmd_judge.h"

#include <fmt/format.h>

#include <algorithm>
#include <iostream>
#include <map>
#include <set>
#include <sstream>

#include "clients/cli/ending.h"
#include "clients/cli/finding_text.h"
#include "clients/cli/text_files.h"
#include "daemon/base/nearest.h"
#include "daemon/base/time_text.h"
#include "daemon/judge/judge.h"
#include "daemon/record/observation_json.h"

namespace fairlead::cli {
namespace {

using judge::Finding;
using v1::Observation;

constexpr int kBadInputExit = 3;
constexpr size_t kMostComplaints = 50;

struct Arguments {
  std::string file, job;
  std::vector<std::string> explain, procedures, registers;
  bool arrivals = false, json = false;
};

// Complaints of lines; one that many lines share stands once, with how many and up to where.
class Complaints {
 public:
  explicit Complaints(const std::string& file) : file_(file) {}
  void add(size_t number, const std::string& message) {
    const auto same = std::ranges::find(found_, message, &Complaint::message);
    if (same != found_.end()) {
      ++same->more;
      same->last = number;
    } else if (found_.size() < kMostComplaints) {
      found_.push_back({message, number, number, 0});
    }
  }
  [[nodiscard]] std::vector<std::string> texts() const {
    std::vector<std::string> out;
    for (const Complaint& one : found_) {
      out.push_back(fmt::format("{}:{}: {}", file_, one.first, one.message));
      if (one.more != 0)
        out.push_back(fmt::format("{}:{}: and {} more like it, to line {}", file_, one.first,
                                  one.more, one.last));
    }
    return out;
  }

 private:
  struct Complaint {
    std::string message;
    size_t first, last, more;
  };
  std::string file_;
  std::vector<Complaint> found_;
};

// All lines, or every complaint as "FILE:LINE: field: what; what to do".
std::vector<std::string> read_lines(const std::string& name, const std::string& text,
                                    std::vector<Observation>& lines) {
  Complaints complaints(name);
  std::istringstream in(text);
  std::string line;
  for (size_t number = 1; std::getline(in, line); ++number) {
    if (line.find_first_not_of(" \t\r") == std::string::npos) continue;
    auto read = record::observation_from_line(line);
    if (read)
      lines.push_back(std::move(*read));
    else
      complaints.add(number, read.error().message);
  }
  return complaints.texts();
}

// The job to judge: the one asked for, or the only one opened.
Result<std::string> job_of(const std::vector<Observation>& lines, const Arguments& arguments) {
  std::set<std::string> jobs;
  for (const Observation& line : lines) {
    if (line.has_opened()) jobs.insert(line.job());
  }
  if (jobs.empty())
    return fail(Code::kBadInput,
                fmt::format("{}: no line opens a job; add an `opened` line", arguments.file));
  if (!arguments.job.empty()) {
    if (jobs.contains(arguments.job)) return arguments.job;
    return fail(Code::kBadInput, fmt::format("--job: '{}' is not opened in {}; it opens {}",
                                             arguments.job, arguments.file, fmt::join(jobs, ", ")));
  }
  if (jobs.size() > 1)
    return fail(Code::kBadInput, fmt::format("{}: opens several jobs; choose one with --job: {}",
                                             arguments.file, fmt::join(jobs, ", ")));
  return *jobs.begin();
}

std::vector<std::string> opened_procedures(const std::vector<Observation>& lines,
                                           const std::string& job) {
  for (const Observation& line : lines) {
    if (line.has_opened() && line.job() == job)
      return {line.opened().procedures().begin(), line.opened().procedures().end()};
  }
  return {};
}

Result<judge::Rulebook> rulebook_for(const std::vector<Observation>& lines, const std::string& job,
                                     const Arguments& arguments) {
  const std::vector<std::string> opened = opened_procedures(lines, job);
  const std::vector<std::string>& names =
      arguments.procedures.empty() ? opened : arguments.procedures;
  if (names.empty())
    return fail(Code::kBadInput,
                "--procedure: none given and the job names none; give a file or a shipped id");
  std::vector<judge::SourceFile> procedures;
  for (const std::string& name : names) {
    auto file = procedure_file(name);
    if (!file) return std::unexpected(file.error());
    procedures.push_back(std::move(*file));
  }
  auto files = register_files(arguments.registers);
  if (!files) return std::unexpected(files.error());
  auto rulebook = judge::Rulebook::load(procedures, *files);
  if (rulebook && !arguments.procedures.empty()) {
    const std::vector<std::string> judged = judge::procedure_ids(*rulebook);
    if (std::set(judged.begin(), judged.end()) != std::set(opened.begin(), opened.end())) {
      std::cerr << fmt::format(
          "note: under other rules: judged under {}; the job was opened under {}\n",
          fmt::join(judged, ", "),
          opened.empty() ? "none" : fmt::format("{}", fmt::join(opened, ", ")));
    }
  }
  return rulebook;
}

// One a line, or, on a terminal, wrapped under the procedure they belong to.
class Printer {
 public:
  explicit Printer(bool json) : json_(json), width_(json ? 0 : terminal_width()) {}

  void print(const Finding& finding) {
    if (json_ || width_ == 0) {
      std::cout << (json_ ? judge::finding_to_json(finding) : finding.sentence) << "\n";
      return;
    }
    if (const std::string heading = procedure_heading(finding);
        !heading.empty() && heading != heading_) {
      std::cout << (heading_.empty() ? "" : "\n") << wrapped(heading, 0, width_);
      heading_ = heading;
    }
    std::cout << finding_block(finding, width_);
  }

  void explain(const Finding& finding, const std::vector<Observation>& lines) {
    print(finding);
    for (const judge::Evidence& evidence : finding.evidence) {
      for (const Observation& line : lines) {
        if (line.source() != evidence.source || line.seq() != evidence.seq) continue;
        std::cout << fmt::format("  {:<11} {}\n", evidence.role, record::observation_to_line(line));
        break;
      }
    }
    const auto tell = [&](const std::string& text) {
      std::cout << (width_ == 0 ? "  " + text + "\n" : wrapped(text, 2, width_));
    };
    for (const std::string& wanted : finding.would_decide) tell("would decide it: " + wanted);
    for (const Finding& member : finding.members)
      tell("of which " + member.sentence.substr(0, member.sentence.rfind("; procedure ")));
  }

 private:
  bool json_;
  size_t width_;
  std::string heading_;
};

// The rule's findings, those of sets' members too; "strength" has "strength.count" besides.
void find_rule(const std::vector<Finding>& findings, const std::string& rule,
               std::vector<const Finding*>& found, std::vector<std::string>& ids) {
  for (const Finding& finding : findings) {
    ids.push_back(finding.rule);
    if (finding.rule == rule) found.push_back(&finding);
    find_rule(finding.members, rule, found, ids);
  }
}

// Every finding that changed, each time a line comes in.
std::vector<Finding> replay_arrivals(const judge::Rulebook& rulebook,
                                     const std::vector<Observation>& lines, const std::string& job,
                                     Printer& printer) {
  const auto arrival_us = [](const Observation& line) {
    return parse_time_us(line.has_received() ? line.received() : line.time()).value_or(0);
  };
  std::vector<Observation> ordered = lines;
  std::stable_sort(ordered.begin(), ordered.end(), [&](const Observation& a, const Observation& b) {
    return arrival_us(a) < arrival_us(b);
  });
  std::map<std::string, Finding> last;
  std::vector<Finding> findings;
  bool opened = false;
  for (size_t count = 1; count <= ordered.size(); ++count) {
    opened = opened || (ordered[count - 1].has_opened() && ordered[count - 1].job() == job);
    if (!opened) continue;
    findings = judge::judge_job(rulebook, std::span(ordered).first(count),
                                {.now_us = {}, .previous = last, .job = job, .complete = true});
    for (const Finding& finding : findings) {
      auto [before, fresh] = last.try_emplace(judge::finding_key(finding), finding);
      // That only the digest of all lines read so far grew is no news.
      if (!fresh && before->second.revision == finding.revision) continue;
      before->second = finding;
      printer.print(finding);
    }
  }
  return findings;
}

int exit_code_of(const std::vector<Finding>& findings) {
  int code = 0;
  for (const Finding& finding : findings) {
    if (finding.verdict == judge::Verdict::kDeviated) return 2;
    const bool fine =
        finding.applies == judge::Applies::kNo || finding.verdict == judge::Verdict::kMet;
    if (!fine) code = 1;
  }
  return code;
}

int refuse(const std::string& message) {
  std::cerr << message << "\n";
  return kBadInputExit;
}

int run(const Arguments& arguments) {
  if (!arguments.explain.empty() && (arguments.json || arguments.arrivals))
    return refuse("--explain: prints one judgement in words; leave --json and --arrivals out");
  auto text = read_file(arguments.file);
  if (!text) return refuse(text.error().message);
  std::vector<Observation> lines;
  const std::vector<std::string> complaints = read_lines(arguments.file, *text, lines);
  if (!complaints.empty()) return refuse(fmt::format("{}", fmt::join(complaints, "\n")));
  const auto job = job_of(lines, arguments);
  if (!job) return refuse(job.error().message);
  auto rulebook = rulebook_for(lines, *job, arguments);
  if (!rulebook) return refuse(rulebook.error().message);
  Printer printer(arguments.json);
  if (arguments.arrivals) return exit_code_of(replay_arrivals(*rulebook, lines, *job, printer));

  const std::vector<Finding> findings = judge::judge_job(
      *rulebook, lines, {.now_us = {}, .previous = {}, .job = *job, .complete = true});
  std::vector<const Finding*> explained;
  for (const std::string& rule : arguments.explain) {
    std::vector<std::string> ids;
    const size_t before = explained.size();
    find_rule(findings, rule, explained, ids);
    if (explained.size() != before) continue;
    const std::vector<std::string_view> words(ids.begin(), ids.end());
    const std::string hint = suggestion(rule, words);
    return refuse(
        fmt::format("--explain: no rule '{}'; {}", rule,
                    hint.empty() ? fmt::format("there are {}", fmt::join(ids, ", ")) : hint));
  }
  for (const Finding* finding : explained) printer.explain(*finding, lines);
  for (const Finding& finding : findings) {
    if (arguments.explain.empty()) printer.print(finding);
  }
  return exit_code_of(findings);
}

}  // namespace

void add_judge(CLI::App& app) {
  auto arguments = std::make_shared<Arguments>();
  CLI::App* command = app.add_subcommand("judge", "Judge a file of observation lines offline");
  command->add_option("FILE", arguments->file, "Observation lines, one JSON object a line")
      ->required();
  command
      ->add_option("--procedure", arguments->procedures,
                   "Procedure file or shipped id; may be given several times")
      ->take_all();
  command
      ->add_option("--register", arguments->registers,
                   "Register file or folder; may be given several times")
      ->take_all();
  command->add_option("--job", arguments->job, "The job, where the file opens several");
  command->add_flag("--arrivals", arguments->arrivals,
                    "Replay in order of arrival and print every revision");
  command->add_flag("--json", arguments->json, "One JSON object a finding");
  command
      ->add_option("--explain", arguments->explain,
                   "Print the lines that decide this rule, also one of a set; may be given several "
                   "times")
      ->take_all();
  command->footer(
      "On a terminal, or with COLUMNS set, answers are wrapped under their procedure; else each is "
      "one\nline.\n"
      "Exit: 0 all met or not applicable, 1 some unproven, 2 some deviated, 3 bad input.\n"
      "Examples:\n"
      "  fairlead judge trace.jsonl --procedure load --register clients/sim/fleet\n"
      "  fairlead judge trace.jsonl --procedure my-load.textproto --json\n"
      "  fairlead judge trace.jsonl --procedure carry --register fleet --explain strength");
  command->callback([arguments] { end_with(run(*arguments)); });
}

}  // namespace fairlead::cli
