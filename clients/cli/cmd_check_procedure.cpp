#include "clients/cli/cmd_check_procedure.h"

#include <fmt/format.h>

#include <fstream>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>
#include <sstream>

#include "clients/cli/ending.h"
#include "daemon/judge/rulebook.h"

namespace fairlead::cli {
namespace {

constexpr int kBadInputExit = 3;

struct Arguments {
  std::vector<std::string> files;
  bool json = false;
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
  std::cout << fmt::format("{}: fine: procedure {} {}, {} phases, {} steps, {} rules, SHA-256 {}\n",
                           file, procedure.id, procedure.version, procedure.phases.size(),
                           procedure.text.step_size(), procedure.rules.size(), procedure.sha256);
}

// Every file is read, whatever is wrong with the ones before it.
int run(const Arguments& arguments) {
  int code = 0;
  for (const std::string& name : arguments.files) {
    std::ifstream in(name, std::ios::binary);
    std::ostringstream bytes;
    if (in) bytes << in.rdbuf();
    if (!in) {
      std::cerr << name << ": cannot be read; check the path\n";
      code = kBadInputExit;
      continue;
    }
    const auto procedure = judge::compile_procedure({name, bytes.str()});
    if (procedure) {
      say_fine(name, *procedure, arguments.json);
    } else {
      std::cerr << procedure.error().message << "\n";
      code = kBadInputExit;
    }
  }
  return code;
}

}  // namespace

void add_check_procedure(CLI::App& app) {
  auto arguments = std::make_shared<Arguments>();
  CLI::App* command =
      app.add_subcommand("check-procedure", "Check procedure files and name every mistake");
  command->add_option("FILE", arguments->files, "Procedure files")->required();
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
