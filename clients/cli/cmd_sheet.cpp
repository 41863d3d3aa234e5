#include "clients/cli/cmd_sheet.h"

#include <fmt/format.h>

#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "fairlead/v1/sheets_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

struct Arguments {
  std::string base, job, paper = "A4", offset, out;
  bool issue = false, json = false;
};

int run(const Arguments& a) {
  const auto offset = utc_offset(a.offset);
  if (!offset) return complain(offset.error());
  v1::WriteSheetRequest request;
  request.set_job(a.job);
  request.set_paper(a.paper);
  request.set_utc_offset_minutes(*offset);
  request.set_issue(a.issue);
  v1::WriteSheetResponse response;
  const auto stub = v1::SheetsService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, std::chrono::seconds(180), [&](auto& context) {
    return stub->WriteSheet(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (auto kept = keep_files(response.file(), a.out); !kept) return complain(kept.error());
  const std::string folder = a.out.empty() ? response.folder() : a.out;
  if (a.json) {
    for (auto& file : *response.mutable_file()) file.clear_content();
    print_json(response);
    return 0;
  }
  for (const auto& file : response.file())
    std::cout << fmt::format("{}/{}  {}\n", folder, file.name(), file.sha256());
  std::cout << (a.issue ? fmt::format("on record as leaf {}\n", response.issued_leaf())
                        : std::string("not issued: nothing was recorded\n"));
  return 0;
}

}  // namespace

void add_sheet(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command = app.add_subcommand(
      "sheet", "The job on one page, for the day's work and the bill: HTML, PDF, CSV, JSON");
  command->add_option("JOB", a->job, "Number, name or id of the job")->required();
  command->add_option("--paper", a->paper, "A4 or LETTER")->capture_default_str();
  command->add_option("--utc-offset", a->offset, "Local time of the page, such as +01:00");
  command->add_option("--out", a->out, "Also write the files into this folder");
  command->add_flag("--issue", a->issue, "It goes to somebody outside: an entry says so");
  command->add_flag("--json", a->json, "One JSON object");
  add_base_option(command, a->base);
  command->footer("Example:\n  fairlead sheet J-106 --utc-offset +01:00 --out out/J-106");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
