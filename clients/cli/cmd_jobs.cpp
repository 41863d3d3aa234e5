#include "clients/cli/cmd_jobs.h"

#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "clients/cli/job_text.h"
#include "fairlead/v1/jobs_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

struct Arguments {
  std::string base, from, to;
  bool json = false, unjobbed = false;
};

int unjobbed(const Arguments& a) {
  const auto stub = v1::JobsService::NewStub(channel_to(a.base));
  v1::ListUnjobbedRequest request;
  request.set_from(a.from);
  request.set_to(a.to);
  v1::ListUnjobbedResponse response;
  const auto done = call_base(a.base, std::chrono::seconds(30), [&](auto& context) {
    return stub->ListUnjobbed(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  for (const auto& work : response.work()) {
    std::cout << work.from().substr(0, 19) << " to " << work.to().substr(0, 19) << " UTC  "
              << (work.truck().empty() ? work.device_id() : work.truck()) << "  ";
    for (int i = 0; i < work.sensed_size(); ++i) std::cout << (i > 0 ? ", " : "") << work.sensed(i);
    std::cout << "  (leaves " << work.first_leaf() << " to " << work.last_leaf() << ")\n";
  }
  std::cout << response.work_size() << (response.work_size() == 1 ? " piece" : " pieces")
            << " of work sensed without a job\n";
  return 0;
}

int run(const Arguments& a) {
  const auto stub = v1::JobsService::NewStub(channel_to(a.base));
  v1::ListJobsRequest request;
  request.set_from(a.from);
  request.set_to(a.to);
  v1::ListJobsResponse response;
  const auto done = call_base(a.base, std::chrono::seconds(30), [&](auto& context) {
    return stub->ListJobs(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  for (const v1::Job& job : response.job()) std::cout << job_line(job) << "\n";
  if (response.job_size() == 0) std::cout << "no jobs\n";
  return 0;
}

}  // namespace

void add_jobs(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command = app.add_subcommand("jobs", "List the jobs of a base");
  command->add_option("--from", a->from, "Opened at or after (RFC 3339)");
  command->add_option("--until", a->to, "Opened before (RFC 3339)");
  command->add_flag("--unjobbed", a->unjobbed,
                    "Instead: work that instruments sensed while no job was open");
  command->add_flag("--json", a->json, "One JSON object");
  add_base_option(command, a->base);
  command->footer(
      "Examples:\n  fairlead jobs --from 2027-03-01T00:00:00Z\n  fairlead jobs --unjobbed");
  command->callback([a] { end_with(a->unjobbed ? unjobbed(*a) : run(*a)); });
}

}  // namespace fairlead::cli
