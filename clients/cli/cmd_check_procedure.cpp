#include "clients/cli/cmd_check_procedure.h"

#include <fmt/format.h>

#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "clients/cli/ending.h"
#include "clients/cli/text_files.h"
#include "daemon/judge/procedure_sense.h"
#include "daemon/judge/rulebook.h"
#include "daemon/judge/vocabulary.h"

namespace fairlead::cli {
namespace {

constexpr int kBadInputExit = 3;

struct Arguments {
  std::vector<std::string> files;
  bool json = false, names = false;
};

void say_fine(const std::string& file, const judge::Procedure& procedure, bool json) {
  if (json) {
    const nlohmann::ordered_json row{{"file", file},
                                     {"id", procedure.id},
                                     {"version", procedure.version},
                                     {"phases", procedure.phases.size()},
                                     {"steps", procedure.text.step_size()},
                                     {"rules", procedure.rules.size()},
                                     {"sha256", procedure.sha256}};
    std::cout << row.dump() << "\n";
    return;
  }
  const auto count = [](size_t number, std::string_view what) {
    return fmt::format("{} {}{}", number, what, number == 1 ? "" : "s");
  };
  std::cout << fmt::format("{}: fine: procedure {} {}, {}, {}, {}, SHA-256 {}\n", file,
                           procedure.id, procedure.version, count(procedure.phases.size(), "phase"),
                           count(static_cast<size_t>(procedure.text.step_size()), "step"),
                           count(procedure.rules.size(), "rule"), procedure.sha256);
}

// Every file is read, whatever is wrong with the ones before it.
int run(const Arguments& arguments) {
  if (arguments.names) {
    std::cout << judge::vocabulary_text();
    return 0;
  }
  if (arguments.files.empty()) {
    std::cerr << "FILE: is missing; name a procedure file, or ask for the --names one may use\n";
    return kBadInputExit;
  }
  const auto paths = text_paths(arguments.files);
  if (!paths) {
    std::cerr << paths.error().message << "\n";
    return kBadInputExit;
  }
  int code = 0;
  for (const std::string& name : *paths) {
    const auto bytes = read_file(name);
    if (!bytes) {
      std::cerr << bytes.error().message << "\n";
      code = kBadInputExit;
      continue;
    }
    const auto procedure = judge::compile_procedure({name, *bytes});
    const std::vector<std::string> senseless = judge::senseless_rules({name, *bytes});
    if (procedure && senseless.empty()) {
      say_fine(name, *procedure, arguments.json);
      continue;
    }
    if (!procedure) std::cerr << procedure.error().message << "\n";
    for (const std::string& one : senseless) std::cerr << one << "\n";
    code = kBadInputExit;
  }
  return code;
}

}  // namespace

void add_check_procedure(CLI::App& app) {
  auto arguments = std::make_shared<Arguments>();
  CLI::App* command =
      app.add_subcommand("check-procedure", "Check procedure files and name every mistake");
  command->add_option("FILE", arguments->files, "Procedure files, or folders of them");
  command->add_flag("--names", arguments->names,
                    "Print the events, facts, quantities and units that a procedure can name");
  command->add_flag("--json", arguments->json, "One JSON object for each file that is fine");
  command->footer(
      "Mistakes go to stderr as FILE:LINE:COLUMN: what; what to do. A mistake of form (a misspelt\n"
      "field, a missing quote) ends the reading of that file; all others are collected in one "
      "run.\n"
      "Exit: 0 all files are fine, 3 some are not.\n"
      "Example:\n"
      "  fairlead check-procedure my-load.textproto my-carry.textproto");
  command->callback([arguments] { end_with(run(*arguments)); });
}

}  // namespace fairlead::cli
