#include "clients/cli/cmd_hold.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/part.h"
#include "fairlead/v1/retention_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr std::chrono::seconds kTimeout{30};

struct Arguments {
  std::string base, claim, words;
  std::vector<std::string> jobs, approved_by;
  bool json = false;
};

void print_hold(const v1::Hold& hold) {
  std::cout << fmt::format("{}  since leaf {}: {}\n", hold.claim_id(), hold.leaf(), hold.words());
  for (const std::string& job : hold.job_id()) std::cout << "  job " << job << "\n";
}

int list(const Arguments& a) {
  v1::ListHoldsResponse response;
  const auto stub = v1::RetentionService::NewStub(channel_to(a.base));
  const auto done = call_base(
      a.base, kTimeout, [&](auto& context) { return stub->ListHolds(&context, {}, &response); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  for (const v1::Hold& hold : response.hold()) print_hold(hold);
  if (response.hold().empty()) std::cout << "nothing is held\n";
  return 0;
}

int add(const Arguments& a) {
  v1::AddHoldRequest request;
  request.set_claim_id(a.claim);
  request.mutable_job()->Assign(a.jobs.begin(), a.jobs.end());
  request.set_words(a.words);
  v1::AddHoldResponse response;
  const auto stub = v1::RetentionService::NewStub(channel_to(a.base));
  const auto done = call_base(
      a.base, kTimeout, [&](auto& context) { return stub->AddHold(&context, request, &response); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response.hold());
  } else {
    print_hold(response.hold());
  }
  return 0;
}

int end(const Arguments& a) {
  v1::EndHoldRequest request;
  request.set_claim_id(a.claim);
  request.mutable_approved_by()->Assign(a.approved_by.begin(), a.approved_by.end());
  request.set_words(a.words);
  v1::EndHoldResponse response;
  const auto stub = v1::RetentionService::NewStub(channel_to(a.base));
  const auto done = call_base(
      a.base, kTimeout, [&](auto& context) { return stub->EndHold(&context, request, &response); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
  } else {
    std::cout << fmt::format("hold for {} ended, leaf {}\n", a.claim, response.leaf());
  }
  return 0;
}

}  // namespace

void add_hold(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* group =
      app.add_subcommand("hold", "Evidence holds: what they name is never erased while they stand");
  group->require_subcommand(1);
  part(group, a, "list", "Holds in force", list)->footer("Example:\n  fairlead hold list");
  CLI::App* more = part(group, a, "add", "Hold jobs for a claim; opening a claim does so too", add);
  more->add_option("CLAIM", a->claim, "Such as C-0001")->required();
  more->add_option("--job", a->jobs, "Job id, its first characters, or the owner's number")
      ->required();
  more->add_option("--words", a->words, "Why")->required();
  more->footer("Example:\n  fairlead hold add C-0001 --job J-105 --words 'same car, same day'");
  CLI::App* over = part(group, a, "end", "End a hold; two different people approve", end);
  over->add_option("CLAIM", a->claim, "Such as C-0001")->required();
  over->add_option("--approved-by", a->approved_by, "Name of one who approves; give it twice")
      ->required();
  over->add_option("--words", a->words, "Why")->required();
  over->footer(
      "Example:\n  fairlead hold end C-0001 --approved-by 'J. Lindqvist' --approved-by 'A. Okafor' "
      "\\\n    --words 'settled on 4 May'");
}

}  // namespace fairlead::cli
