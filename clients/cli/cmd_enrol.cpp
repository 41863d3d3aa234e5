#include "clients/cli/cmd_enrol.h"

#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "fairlead/v1/register_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr size_t kLongestFile = 4'096;

struct Arguments {
  std::string base, name, key;
  bool json = false;
};

int run(const Arguments& a) {
  const auto line = whole_file(a.key, kLongestFile);
  if (!line) return complain(line.error());
  v1::EnrolTruckRequest request;
  request.set_name(a.name);
  request.set_device_line(*line);
  const auto stub = v1::RegisterService::NewStub(channel_to(a.base));
  v1::EnrolTruckResponse response;
  const auto done = call_base(a.base, std::chrono::seconds(30), [&](auto& context) {
    return stub->EnrolTruck(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
  } else {
    std::cout << response.device_id()
              << (response.already_there() ? "  was enrolled before" : "  enrolled") << ", leaf "
              << response.leaf_index() << "\n";
  }
  return 0;
}

}  // namespace

void add_enrol(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* enrol = app.add_subcommand("enrol", "Make a truck's key known to a base");
  enrol->require_subcommand(1);
  CLI::App* truck = enrol->add_subcommand("truck", "Enrol a truck by its device.pub file");
  truck->add_option("--name", a->name, "Name the truck goes by")->required();
  truck->add_option("--key", a->key, "device.pub of the truck's data folder")->required();
  truck->add_flag("--json", a->json, "One JSON object");
  add_base_option(truck, a->base);
  truck->footer("Example:\n  fairlead enrol truck --name OW-04 --key /media/stick/device.pub");
  truck->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
