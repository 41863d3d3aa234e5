// The command line: one file a command.
#include <CLI/CLI.hpp>

#include "clients/cli/cmd_judge.h"

int main(int argc, char** argv) {
  CLI::App app{"Fairlead: the record of a recovery job"};
  app.require_subcommand(1);
  fairlead::cli::add_judge(app);
  CLI11_PARSE(app, argc, argv);
  return 0;
}
