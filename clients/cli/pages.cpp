#include "clients/cli/pages.h"

namespace fairlead::cli {

void add_page_options(CLI::App* command, PageOptions& options) {
  command->add_option("--paper", options.paper, "A4 or LETTER")->capture_default_str();
  auto* zone = command->add_option("--zone", options.zone,
                                   "Local time of the pages, such as Europe/Dublin: each time as "
                                   "clocks there stood then");
  command->add_option("--utc-offset", options.offset, "Instead of a zone: always so, as +01:00")
      ->excludes(zone);
  command->add_option("--out", options.out, "Also write the files into this folder");
  command->add_flag("--json", options.json, "One JSON object: files and their SHA-256");
  add_base_option(command, options.base);
}

}  // namespace fairlead::cli
