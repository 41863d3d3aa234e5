#include "clients/cli/cmd_sheet.h"

#include "clients/cli/ending.h"
#include "clients/cli/pages.h"
#include "fairlead/v1/sheets_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

struct Arguments {
  PageOptions pages;
  std::string job;
  bool issue = false;
};

int run(const Arguments& a) {
  v1::WriteSheetRequest request;
  if (auto ok = ask_pages(a.pages, request); !ok) return complain(ok.error());
  request.set_job(a.job);
  request.set_issue(a.issue);
  v1::WriteSheetResponse response;
  const auto stub = v1::SheetsService::NewStub(channel_to(a.pages.base));
  const auto done = call_base(a.pages.base, std::chrono::seconds(180), [&](auto& context) {
    return stub->WriteSheet(&context, request, &response);
  });
  if (!done) return complain(done.error());
  return end_pages(a.pages, response,
                   a.issue ? fmt::format("on record as leaf {}", response.issued_leaf())
                           : "not issued: nothing was recorded");
}

}  // namespace

void add_sheet(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command = app.add_subcommand(
      "sheet", "The job on one page, for the day's work and the bill: HTML, PDF, CSV, JSON");
  command->add_option("JOB", a->job, "Number, name or id of the job")->required();
  command->add_flag("--issue", a->issue, "It goes to somebody outside: an entry says so");
  add_page_options(command, a->pages);
  command->footer("Example:\n  fairlead sheet J-106 --zone Europe/Dublin --out out/J-106");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
