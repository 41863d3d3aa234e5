#include "clients/cli/cmd_retention.h"

#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "clients/cli/erasure_text.h"
#include "fairlead/v1/retention_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

struct Arguments {
  std::string base;
  bool json = false, dry_run = false;
};

int run(const Arguments& a) {
  v1::RunRetentionRequest request;
  request.set_dry_run(a.dry_run);
  v1::RunRetentionResponse response;
  const auto stub = v1::RetentionService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, std::chrono::hours(12), [&](auto& context) {
    return stub->RunRetention(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  std::cout << "policy: " << response.policy() << "\n";
  if (response.off() && !a.dry_run) return 0;
  print_erasure(response.erasure(), a.dry_run);
  return 0;
}

}  // namespace

void add_retention(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* group = app.add_subcommand("retention", "Erase what need not be kept any longer");
  group->require_subcommand(1);
  CLI::App* command = group->add_subcommand(
      "run", "Erase what is due and not held; the base does so daily by itself");
  command->add_flag("--dry-run", a->dry_run, "Only show what would go and what is held, and why");
  command->add_flag("--json", a->json, "One JSON object");
  add_base_option(command, a->base);
  command->footer("Example:\n  fairlead retention run --dry-run");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
