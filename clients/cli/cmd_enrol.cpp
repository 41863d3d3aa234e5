#include "clients/cli/cmd_enrol.h"

#include "clients/cli/enrol_files.h"

namespace fairlead::cli {

void add_enrol(CLI::App& app) {
  CLI::App* enrol =
      app.add_subcommand("enrol", "Keys: of the base, its officers, its trucks, its callers");
  enrol->require_subcommand(1);
  add_enrol_truck(enrol);
  add_enrol_certificate(enrol);
  add_enrol_roster(enrol);
}

}  // namespace fairlead::cli
