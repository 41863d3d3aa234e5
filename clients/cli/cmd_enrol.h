// `fairlead enrol`: its commands are in enrol_roster, enrol_truck and enrol_certificate.
#pragma once

#include <CLI/CLI.hpp>

namespace fairlead::cli {

void add_enrol(CLI::App& app);

}  // namespace fairlead::cli
