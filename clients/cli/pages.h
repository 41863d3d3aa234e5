// What every command that has pages made shares: their options, the files that come back, what is
// printed of them.
#pragma once

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <iostream>
#include <string>

#include "clients/cli/base_call.h"

namespace fairlead::cli {

struct PageOptions {
  std::string base, paper = "A4", offset, zone, out;
  bool json = false;
};
void add_page_options(CLI::App* command, PageOptions& options);

/// Paper and local time into the request. Errors: kBadInput.
template <typename Request>
[[nodiscard]] Status ask_pages(const PageOptions& options, Request& request) {
  const auto offset = utc_offset(options.offset);
  if (!offset) return std::unexpected(offset.error());
  request.set_paper(options.paper);
  request.set_utc_offset_minutes(*offset);
  request.set_zone(options.zone);
  return {};
}

/// Keeps the files of the answer and prints them; `ending` is the last line. Gives the exit code.
template <typename Response>
[[nodiscard]] int end_pages(const PageOptions& options, Response& response,
                            const std::string& ending) {
  if (auto kept = keep_files(response.file(), options.out); !kept) return complain(kept.error());
  if (options.json) {
    for (auto& file : *response.mutable_file()) file.clear_content();
    print_json(response);
    return 0;
  }
  const std::string& folder = options.out.empty() ? response.folder() : options.out;
  for (const auto& file : response.file())
    std::cout << fmt::format("{}/{}  {}\n", folder, file.name(), file.sha256());
  std::cout << ending << "\n";
  return 0;
}

}  // namespace fairlead::cli
