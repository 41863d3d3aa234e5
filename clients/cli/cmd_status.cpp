#include "clients/cli/cmd_status.h"

#include <fmt/format.h>

#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "fairlead/v1/ledger_service.grpc.pb.h"
#include "fairlead/v1/register_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr std::chrono::seconds kTimeout{30};

struct Arguments {
  std::string base;
  bool json = false;
};

void print_truck(const v1::EnrolledTruck& truck) {
  std::cout << fmt::format(
      "  {:<16} {} {} entries{}{}\n", truck.name(), truck.device_id().substr(0, 8),
      truck.acked_seq(),
      truck.imported()    ? ", imported"
      : truck.revoked()   ? fmt::format(", revoked after entry {}", truck.trusted_seq())
      : truck.connected() ? ", connected"
                          : "",
      truck.bodies_missing() > 0 ? fmt::format(", {} bodies to come", truck.bodies_missing())
                                 : std::string());
}

void print_countersigners(const v1::GetStatusResponse& status) {
  for (const auto& one : status.countersigner()) {
    if (one.name().empty()) {
      std::cout << fmt::format("newest countersigned head: {} entries\n", one.size());
    } else if (one.size() == 0) {
      std::cout << fmt::format("{} has countersigned nothing yet\n", one.name());
    } else {
      std::cout << fmt::format("{} countersigned head {} at {}\n", one.name(), one.size(),
                               one.at());
    }
  }
  if (!status.countersign_waiting_since().empty())
    std::cout << "a head waits for an answer since " << status.countersign_waiting_since() << "\n";
  if (!status.countersign_alarm().empty())
    std::cout << "ALARM: " << status.countersign_alarm() << "\n";
}

// Only what somebody should know.
void print_disk(const v1::GetStatusResponse& status) {
  const v1::Disk& disk = status.disk();
  if (disk.total_bytes() > 0) {
    std::cout << fmt::format("{} MiB of {} MiB free{}{}\n", disk.free_bytes() >> 20,
                             disk.total_bytes() >> 20,
                             disk.refuses_entries()       ? ", NO ENTRIES are taken in"
                             : disk.refuses_attachments() ? ", no photos are taken in"
                                                          : "",
                             disk.refuses_samples() ? ", no samples are recorded" : "");
  }
  const v1::Scrub& scrub = status.scrub();
  if (scrub.running()) {
    std::cout << fmt::format("reading everything again: {} of {} entries, {} attachments\n",
                             scrub.leaves_done(), scrub.leaves_total(), scrub.attachments_done());
  } else if (!scrub.last_done().empty()) {
    std::cout << fmt::format("everything was read again on {}, {} faults\n", scrub.last_done(),
                             scrub.problem_size());
  }
  for (const std::string& problem : scrub.problem()) std::cout << "  " << problem << "\n";
}

void print_plugins(const v1::GetStatusResponse& status) {
  if (status.plugin().empty()) return;
  int live = 0;
  for (const v1::PluginStanding& plugin : status.plugin()) live += plugin.missing() ? 0 : 1;
  if (status.red_light())
    std::cout << "RED LIGHT: a required sensor is missing; the others are recorded\n";
  std::cout << fmt::format("sensors: {} of {} plug-ins deliver\n", live, status.plugin_size());
  for (const v1::PluginStanding& plugin : status.plugin()) {
    if (!plugin.missing()) continue;
    std::cout << fmt::format("  {:<16} {}{}{}{}\n", plugin.id(),
                             plugin.required() ? "REQUIRED, " : "",
                             plugin.state() == "live" ? "runs, but has gaps" : plugin.state(),
                             plugin.trouble().empty() ? "" : ": ", plugin.trouble());
  }
}

int run(const Arguments& a) {
  const auto channel = channel_to(a.base);
  const auto ledger = v1::LedgerService::NewStub(channel);
  v1::GetStatusResponse status;
  auto done = call_base(a.base, kTimeout,
                        [&](auto& context) { return ledger->GetStatus(&context, {}, &status); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(status);
    return 0;
  }
  std::cout << fmt::format("{} '{}' of {}\n{} entries in {}\n", status.role(), status.name(),
                           status.origin().empty() ? "no base yet" : status.origin(),
                           status.entries(), status.data_folder());
  print_countersigners(status);
  for (const std::string& job : status.open_job()) std::cout << "open job " << job << "\n";
  if (!status.enrol_code().empty()) {
    std::cout << fmt::format("one-time code {} until {}, for fairlead enrol truck at the base\n",
                             status.enrol_code(), status.enrol_code_until());
  }
  print_disk(status);
  if (status.role() == "truck") {
    std::cout << fmt::format("{}, {}, {} entries at the base, {} orders\n",
                             status.enrolled() ? "enrolled" : "not enrolled yet",
                             status.connected() ? "connected" : "not connected", status.acked_seq(),
                             status.orders());
    print_plugins(status);
    if (!status.copy().empty()) std::cout << "copy " << status.copy() << " of this truck\n";
    return 0;
  }
  if (!status.frozen().empty()) std::cout << "TAKES NOTHING IN: " << status.frozen() << "\n";
  if (status.waits_for_head()) std::cout << "signs nothing until a truck has called (or --alone)\n";
  v1::ListTrucksResponse trucks;
  const auto desk = v1::RegisterService::NewStub(channel);
  done = call_base(a.base, kTimeout,
                   [&](auto& context) { return desk->ListTrucks(&context, {}, &trucks); });
  if (!done) return complain(done.error());
  for (const auto& truck : trucks.truck()) print_truck(truck);
  return 0;
}

}  // namespace

void add_status(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command = app.add_subcommand("status", "How a base or a truck stands");
  command->add_flag("--json", a->json, "One JSON object");
  add_base_option(command, a->base);
  command->footer(
      "Examples:\n  fairlead status\n  fairlead status --base unix:/run/fairlead/truck.sock");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
