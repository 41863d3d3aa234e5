#include "clients/cli/cmd_watch.h"

#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/cmd_watch_sensors.h"
#include "clients/cli/ending.h"
#include "clients/cli/job_text.h"
#include "fairlead/v1/jobs_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

struct Arguments {
  std::string base, job;
  unsigned for_s = 0;
  bool json = false;
};

int run(const Arguments& a) {
  const auto stub = v1::JobsService::NewStub(channel_to(a.base));
  v1::WatchFindingsRequest request;
  request.set_job(a.job);
  grpc::ClientContext context;
  if (a.for_s > 0)
    context.set_deadline(std::chrono::system_clock::now() + std::chrono::seconds(a.for_s));
  const auto reader = stub->WatchFindings(&context, request);
  v1::WatchFindingsResponse news;
  while (reader->Read(&news)) {
    if (a.json) {
      for (const std::string& finding : news.finding()) std::cout << finding << "\n";
    } else {
      std::cout << job_line(news.job()) << "\n";
      for (const std::string& words : news.warning()) std::cout << "  WARNING " << words << "\n";
      for (const std::string& finding : news.finding())
        std::cout << "  " << finding_text(finding) << "\n";
    }
    std::cout.flush();
  }
  const grpc::Status end = reader->Finish();
  if (end.ok() || end.error_code() == grpc::StatusCode::DEADLINE_EXCEEDED) return 0;
  return complain({Code::kUnavailable, "base at " + a.base + ": " + end.error_message()});
}

}  // namespace

void add_watch(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command = app.add_subcommand("watch", "Print findings as they change");
  command->add_option("JOB", a->job, "Full job id or name; all jobs when absent");
  command->add_option("--for", a->for_s, "End after so many seconds");
  command->add_flag("--json", a->json, "Finding lines only, one JSON object each");
  add_base_option(command, a->base);
  command->footer(
      "Warnings come while a job is open. A job that is fed whole, its closing with it, is over "
      "when "
      "it is first\njudged: it gives findings, no warnings.\n"
      "Example:\n  fairlead watch J-102");
  add_watch_sensors(command);
  command->callback([a, command] {
    if (command->get_subcommands().empty()) end_with(run(*a));
  });
}

}  // namespace fairlead::cli
