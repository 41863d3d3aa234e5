#include "clients/cli/cmd_audit.h"

#include <fmt/format.h>
#include <unistd.h>

#include <atomic>
#include <iostream>
#include <thread>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "clients/cli/offline_ledger.h"
#include "fairlead/v1/ledger_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr std::chrono::hours kTimeout{12};
constexpr std::chrono::seconds kAsk{10};

struct Arguments {
  std::string base, data;
  bool json = false;
};

// One line that is written over on a terminal; one line every ten seconds elsewhere.
class Progress {
 public:
  void show(uint64_t leaves, uint64_t total, uint64_t attachments) {
    const auto now = std::chrono::steady_clock::now();
    const bool terminal = ::isatty(STDERR_FILENO) == 1;
    if (now < next_) return;
    next_ = now + (terminal ? std::chrono::milliseconds(500) : std::chrono::milliseconds(10'000));
    std::cerr << fmt::format("{}{} of {} entries, {} attachments read again{}",
                             terminal ? "\r" : "", leaves, total, attachments, terminal ? "" : "\n")
              << std::flush;
    open_line_ = terminal;
  }
  ~Progress() {
    if (open_line_) std::cerr << "\n";
  }

 private:
  std::chrono::steady_clock::time_point next_ =
      std::chrono::steady_clock::now() + std::chrono::seconds(1);
  bool open_line_ = false;
};

int print(const v1::AuditResponse& response, const std::string& words, bool json) {
  if (json) {
    print_json(response);
  } else {
    std::cout << fmt::format("{} entries, {} bodies, {} attachments read again, {} faults\n",
                             response.leaves(), response.bodies(), response.attachments(),
                             response.fault_size());
    for (const std::string& fault : response.fault()) std::cout << "  " << fault << "\n";
    if (!words.empty()) std::cout << words << "\n";
  }
  return response.fault().empty() ? 0 : 2;
}

int running(const Arguments& a) {
  const auto stub = v1::LedgerService::NewStub(channel_to(a.base));
  v1::AuditResponse response;
  Status done;
  std::atomic<bool> over = false;
  std::thread call([&] {
    done = call_base(a.base, kTimeout,
                     [&](auto& context) { return stub->Audit(&context, {}, &response); });
    over = true;
  });
  {
    Progress progress;
    for (int i = 1; !over; ++i) {
      std::this_thread::sleep_for(std::chrono::milliseconds(50));
      if (i % 20 != 0) continue;
      v1::GetStatusResponse status;
      const auto asked = call_base(
          a.base, kAsk, [&](auto& context) { return stub->GetStatus(&context, {}, &status); });
      const v1::Scrub& scrub = status.scrub();
      if (asked && scrub.running())
        progress.show(scrub.leaves_done(), scrub.leaves_total(), scrub.attachments_done());
    }
  }
  call.join();
  if (!done) return complain(done.error());
  return print(response,
               response.fault().empty()
                   ? ""
                   : "what is damaged is on record as ALARM entries; stop the base and run "
                     "fairlead audit --data to build again what can be",
               a.json);
}

int offline(const Arguments& a) {
  const auto ledger = offline_ledger(a.data);
  if (!ledger) return complain(ledger.error());
  Progress progress;
  ledger::AuditOptions options;
  options.progress = [&](const ledger::AuditProgress& now) {
    progress.show(now.leaves, now.leaves_total, now.attachments);
    return true;
  };
  const auto report = ledger::audit_offline(*ledger, options);
  if (!report) return complain(report.error());
  v1::AuditResponse response;
  response.set_leaves(report->report.leaves);
  response.set_bodies(report->report.bodies);
  response.set_attachments(report->report.attachments);
  for (const std::string& problem : report->report.problems) response.add_fault(problem);
  std::string words;
  if (report->rebuilt) words = "indexes were damaged and have been built again from the entries";
  if (!report->not_rebuilt.empty()) {
    words = "indexes are damaged and cannot be built again: " + report->not_rebuilt +
            "; restore the folder from a good copy";
  }
  return print(response, words, a.json);
}

int run(const Arguments& a) { return a.data.empty() ? running(a) : offline(a); }

}  // namespace

void add_audit(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command = app.add_subcommand(
      "audit", "Read everything stored again, name what is damaged, rebuild indexes");
  command->add_option("--data", a->data,
                      "Data folder of a base or truck that is stopped; without it the running base "
                      "is asked");
  command->add_flag("--json", a->json, "One JSON object");
  add_base_option(command, a->base);
  command->footer(
      "Exit: 0 no fault, 2 faults, 3 no such folder, 4 it could not be read.\n"
      "Examples:\n  fairlead audit\n  fairlead audit --data fairlead-data");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
