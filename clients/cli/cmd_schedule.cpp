#include "clients/cli/cmd_schedule.h"

#include <fmt/format.h>

#include <iostream>

#include "clients/cli/part.h"
#include "fairlead/v1/summaries_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

struct Arguments {
  std::string base, name, out;
  bool json = false;
};

template <typename Call>
Status ask(const Arguments& a, std::chrono::seconds timeout, Call call) {
  const auto stub = v1::SummariesService::NewStub(channel_to(a.base));
  return call_base(a.base, timeout, [&](auto& context) { return call(*stub, context); });
}

std::string recipients(const google::protobuf::RepeatedPtrField<std::string>& to) {
  std::string out;
  for (const auto& one : to) out += (out.empty() ? "" : ", ") + one;
  return out.empty() ? "nobody: the outbox folder only" : out;
}

std::string day(const std::string& time) { return time.substr(0, 16) + "Z"; }

void print(const v1::Schedule& one) {
  std::cout << fmt::format("{}: {} in {}\n  to {}\n  next: {} to {}\n  {}\n", one.name(),
                           one.every(), one.zone(), recipients(one.to()), day(one.from()),
                           day(one.until()),
                           one.to().empty() ? "nothing is mailed"
                           : one.approved() ? "approved: each is mailed when its period is over"
                                            : "NOT approved: nothing is mailed; see its preview, "
                                              "then fairlead schedule approve");
}

int list(const Arguments& a) {
  v1::ListSchedulesResponse response;
  const auto done = ask(a, std::chrono::seconds(30), [&](auto& stub, auto& context) {
    return stub.ListSchedules(&context, {}, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  for (const auto& one : response.schedule()) print(one);
  if (response.schedule().empty()) std::cout << "no schedule in the settings file\n";
  for (const auto& one : response.delivery()) {
    std::cout << fmt::format("\n{}\n  {} to {}, tries {}\n", one.folder(), one.state(),
                             recipients(one.to()), one.tries());
    if (!one.words().empty()) std::cout << "  " << one.words() << "\n";
    if (!one.next_try().empty()) std::cout << "  next try " << day(one.next_try()) << "\n";
    if (!one.sent_at().empty()) std::cout << "  sent " << day(one.sent_at()) << "\n";
  }
  return 0;
}

int preview(const Arguments& a) {
  v1::WriteSummaryRequest request;
  request.set_schedule(a.name);
  request.set_preview(true);
  v1::WriteSummaryResponse response;
  const auto done = ask(a, std::chrono::seconds(600), [&](auto& stub, auto& context) {
    return stub.WriteSummary(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (auto kept = keep_files(response.file(), a.out); !kept) return complain(kept.error());
  v1::ListSchedulesResponse all;
  const auto listed = ask(a, std::chrono::seconds(30), [&](auto& stub, auto& context) {
    return stub.ListSchedules(&context, {}, &all);
  });
  if (!listed) return complain(listed.error());
  for (const auto& one : all.schedule()) {
    if (one.name() != a.name) continue;
    std::cout << fmt::format("What goes out to {}:\n", recipients(one.to()));
  }
  for (const auto& file : response.file())
    std::cout << fmt::format("  {}/{}\n", a.out, file.name());
  std::cout << "preview: nothing was recorded or sent\n";
  return 0;
}

int decide(const Arguments& a, bool approve) {
  v1::DecideScheduleRequest request;
  request.set_name(a.name);
  request.set_approve(approve);
  v1::DecideScheduleResponse response;
  const auto done = ask(a, std::chrono::seconds(30), [&](auto& stub, auto& context) {
    return stub.DecideSchedule(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
  } else {
    print(response.schedule());
  }
  return 0;
}

int approve(const Arguments& a) { return decide(a, true); }
int stop(const Arguments& a) { return decide(a, false); }

}  // namespace

void add_schedule(CLI::App& app) {
  CLI::App* group = app.add_subcommand(
      "schedule", "Summaries that go out by themselves: [[schedule]] and [mail] of the settings");
  group->require_subcommand(1);
  auto a = std::make_shared<Arguments>();
  part(group, a, "list", "What goes out, to whom, when; and how each delivery stands", &list);
  CLI::App* look = part(group, a, "preview", "The last whole period as it would go out", &preview);
  look->add_option("NAME", a->name)->required();
  look->add_option("--out", a->out, "Folder for the files")->required();
  part(group, a, "approve", "From now on it is mailed; other settings need another yes", &approve)
      ->add_option("NAME", a->name)
      ->required();
  part(group, a, "stop", "From now on nothing of it is mailed", &stop)
      ->add_option("NAME", a->name)
      ->required();
  group->footer(
      "Example:\n  fairlead schedule preview insurer --out look\n  fairlead schedule approve "
      "insurer");
}

}  // namespace fairlead::cli
