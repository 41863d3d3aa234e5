#include "clients/cli/cmd_register.h"

#include <filesystem>
#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "fairlead/v1/register_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr size_t kLongestFile = 64 * 1024;
constexpr std::chrono::seconds kTimeout{30};

struct Arguments {
  std::string base;
  std::vector<std::string> files;
  bool json = false;
};

int put(const Arguments& a) {
  const auto stub = v1::RegisterService::NewStub(channel_to(a.base));
  for (const std::string& file : a.files) {
    auto bytes = whole_file(file, kLongestFile);
    if (!bytes) return complain(bytes.error());
    v1::PutFileRequest request;
    request.set_name(std::filesystem::path(file).filename().string());
    request.set_content(std::move(*bytes));
    v1::PutFileResponse response;
    const auto done = call_base(a.base, kTimeout, [&](auto& context) {
      return stub->PutFile(&context, request, &response);
    });
    if (!done) return complain(done.error());
    if (a.json) {
      print_json(response);
    } else {
      std::cout << response.sha256() << "  " << request.name()
                << (response.already_there() ? "  was in force before\n" : "  in force\n");
    }
  }
  return 0;
}

int list(const Arguments& a) {
  const auto stub = v1::RegisterService::NewStub(channel_to(a.base));
  v1::ListFilesResponse response;
  const auto done = call_base(
      a.base, kTimeout, [&](auto& context) { return stub->ListFiles(&context, {}, &response); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  for (const auto& file : response.file()) {
    std::cout << file.sha256().substr(0, 16) << "  " << v1::FileKind::Word_Name(file.kind()) << "  "
              << file.name() << "  since " << file.since() << "\n";
  }
  return 0;
}

int trucks(const Arguments& a) {
  const auto stub = v1::RegisterService::NewStub(channel_to(a.base));
  v1::ListTrucksResponse response;
  const auto done = call_base(
      a.base, kTimeout, [&](auto& context) { return stub->ListTrucks(&context, {}, &response); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  for (const auto& truck : response.truck()) {
    std::cout << truck.name() << "  " << truck.device_id() << "  " << truck.acked_seq()
              << " entries"
              << (truck.imported()    ? ", imported"
                  : truck.connected() ? ", connected"
                                      : "")
              << "\n";
  }
  return 0;
}

}  // namespace

void add_register(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command =
      app.add_subcommand("register", "Procedure and register files in force, enrolled trucks");
  command->require_subcommand(1);
  CLI::App* in = command->add_subcommand("put", "Put files in force, here and on every truck");
  in->add_option("FILE", a->files, "Procedure or register files (.textproto)")->required();
  in->add_flag("--json", a->json, "One JSON object a file");
  add_base_option(in, a->base);
  in->footer("Example:\n  fairlead register put load.textproto fleet.textproto");
  in->callback([a] { end_with(put(*a)); });
  CLI::App* out = command->add_subcommand("list", "List them");
  out->add_flag("--json", a->json, "One JSON object");
  add_base_option(out, a->base);
  out->callback([a] { end_with(list(*a)); });
  CLI::App* known =
      command->add_subcommand("trucks", "List enrolled trucks and what is held of each");
  known->add_flag("--json", a->json, "One JSON object");
  add_base_option(known, a->base);
  known->callback([a] { end_with(trucks(*a)); });
}

}  // namespace fairlead::cli
