#include "clients/cli/cmd_device.h"

#include <fmt/format.h>

#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/part.h"
#include "fairlead/v1/device_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr std::chrono::seconds kTimeout{30};

struct Arguments {
  std::string base;
  bool json = false;
  v1::DecideCopyRequest decision;
};

int list(const Arguments& a) {
  const auto stub = v1::DeviceService::NewStub(channel_to(a.base));
  v1::ListDevicesResponse response;
  const auto done = call_base(
      a.base, kTimeout, [&](auto& context) { return stub->ListDevices(&context, {}, &response); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  for (const v1::DeviceState& device : response.device()) {
    std::cout << fmt::format("{:<16} epoch {}, {} entries{}\n", device.name(), device.epoch(),
                             device.acked_seq(),
                             device.suspended()        ? ", TWO COPIES EXIST: choose one"
                             : device.chosen().empty() ? ""
                                                       : ", copy " + device.chosen().substr(0, 12));
    for (const v1::DeviceCopy& copy : device.copy()) {
      std::cout << fmt::format("  copy {}  at {} of epoch {}, called {}\n",
                               copy.mark().substr(0, 12), copy.last_seq(), copy.epoch(),
                               copy.last_called());
    }
  }
  return 0;
}

int decide(const Arguments& a) {
  const auto stub = v1::DeviceService::NewStub(channel_to(a.base));
  v1::DecideCopyResponse response;
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->DecideCopy(&context, a.decision, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
  } else {
    std::cout << fmt::format("decided, leaf {}; that copy goes on in epoch {}\n",
                             response.leaf_index(), response.new_epoch());
  }
  return 0;
}

}  // namespace

void add_device(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* device = app.add_subcommand("device", "Trucks that exist twice");
  device->require_subcommand(1);
  part(device, a, "list", "Devices, and the copies of them that have called", list)
      ->footer("Example:\n  fairlead device list");
  CLI::App* choose = part(device, a, "decide", "Choose which copy of a truck goes on", decide);
  const auto text = [&](const char* name, std::string* value, const char* words) {
    return choose->add_option(name, *value, words);
  };
  text("--truck", a->decision.mutable_name(), "Name the truck goes by")->required();
  text("--copy", a->decision.mutable_copy(),
       "Mark of the copy that goes on, or its first characters; `fairlead status` on a truck shows "
       "its own")
      ->required();
  text("--words", a->decision.mutable_words(), "Why; stands in the record");
  choose->footer(
      "Example:\n  fairlead device decide --truck OW-04 --copy 3f0c91 "
      "--words \"the box in the truck\"");
}

}  // namespace fairlead::cli
