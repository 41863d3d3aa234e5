#include "clients/cli/cmd_watch_sensors.h"

#include <unistd.h>

#include <iostream>
#include <thread>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "clients/cli/sensors_text.h"
#include "fairlead/v1/sensors_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr std::chrono::seconds kTimeout{10};

struct Arguments {
  std::string base;
  unsigned every_ms = 500, for_s = 0;
  bool once = false, json = false;
};

int run(const Arguments& a) {
  const auto stub = v1::SensorsService::NewStub(channel_to(a.base));
  const auto end = std::chrono::steady_clock::now() + std::chrono::seconds(a.for_s);
  const bool terminal = isatty(STDOUT_FILENO) != 0;
  SensorsTable table;
  while (true) {
    v1::GetSensorsResponse now;
    const auto done = call_base(
        a.base, kTimeout, [&](auto& context) { return stub->GetSensors(&context, {}, &now); });
    if (!done) return complain(done.error());
    if (a.json) {
      print_json(now);
    } else {
      // On a terminal in place, else one table after the other.
      std::cout << (terminal && !a.once ? "\x1b[H\x1b[J" : "") << table.text(now);
      if (terminal && !a.once) std::cout << "Ctrl-C ends it\n";
    }
    std::cout.flush();
    if (a.once || (a.for_s > 0 && std::chrono::steady_clock::now() >= end)) return 0;
    std::this_thread::sleep_for(std::chrono::milliseconds(a.every_ms));
  }
}

}  // namespace

void add_watch_sensors(CLI::App* watch) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command = watch->add_subcommand(
      "sensors", "A truck's channels as they are: value, age, rate, quality, last values");
  command->add_option("--every", a->every_ms, "Look so often, milliseconds")
      ->check(CLI::Range(100u, 60'000u));
  command->add_option("--for", a->for_s, "End after so many seconds");
  command->add_flag("--once", a->once, "One look");
  command->add_flag("--json", a->json, "One JSON object a look");
  add_base_option(command, a->base);
  command->footer("Example:\n  fairlead watch sensors --base unix:truck/truck.sock");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
