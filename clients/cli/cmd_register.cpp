#include "clients/cli/cmd_register.h"

#include <filesystem>
#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "clients/cli/register_text.h"
#include "clients/cli/text_files.h"
#include "fairlead/v1/register_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr size_t kLongestFile = 64 * 1024;
constexpr std::chrono::seconds kTimeout{30};

struct Arguments {
  std::string base;
  std::vector<std::string> files;
  std::string name;
  bool json = false, policy = false;
};

std::string file_line(const v1::RegisteredFile& file) {
  return file.sha256().substr(0, 16) + "  " + v1::FileKind::Word_Name(file.kind()) + "  " +
         file.name() + "  leaf " + std::to_string(file.leaf_index()) + ", " + file.since() +
         ", by " + file.by();
}

int put(const Arguments& a) {
  const auto stub = v1::RegisterService::NewStub(channel_to(a.base));
  const auto files = text_paths(a.files);
  if (!files) return complain(files.error());
  for (const std::string& file : *files) {
    auto bytes = whole_file(file, kLongestFile);
    if (!bytes) return complain(bytes.error());
    v1::PutFileRequest request;
    request.set_name(std::filesystem::path(file).filename().string());
    request.set_content(std::move(*bytes));
    if (a.policy) request.set_kind(v1::FileKind::POLICY);
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
  for (const auto& file : response.file()) std::cout << file_line(file) << "\n";
  return 0;
}

int show(const Arguments& a) {
  const auto stub = v1::RegisterService::NewStub(channel_to(a.base));
  v1::GetFileRequest request;
  const bool hash =
      a.name.size() >= 8 && a.name.find_first_not_of("0123456789abcdef") == std::string::npos;
  (hash ? *request.mutable_sha256() : *request.mutable_name()) = a.name;
  v1::GetFileResponse response;
  const auto done = call_base(
      a.base, kTimeout, [&](auto& context) { return stub->GetFile(&context, request, &response); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  // The file's bytes alone on stdout, so that they can be kept.
  std::cerr << file_line(response.file()) << "\n";
  std::cout << response.content();
  return 0;
}

int history(const Arguments& a) {
  const auto stub = v1::RegisterService::NewStub(channel_to(a.base));
  v1::FileHistoryRequest request;
  request.set_name(a.name);
  v1::FileHistoryResponse response;
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->FileHistory(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  for (const auto& version : response.version()) {
    const auto& file = version.file();
    std::cout << file.sha256() << "\n  leaf " << file.leaf_index() << ", " << file.since()
              << ", by " << file.by() << (version.in_force() ? ", in force" : "") << "\n";
    for (const auto& use : version.use()) {
      std::cout << "  truck " << use.truck() << " uses it since " << use.since()
                << " by its own clock (leaf " << use.leaf_index() << ")\n";
    }
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
  in->add_option("FILE", a->files, "Procedure or register files (.textproto), or folders of them")
      ->required();
  in->add_flag("--policy", a->policy, "They are policies: kept and sent as they are, not compiled");
  in->add_flag("--json", a->json, "One JSON object a file");
  add_base_option(in, a->base);
  in->footer("Example:\n  fairlead register put load.textproto fleet.textproto");
  in->callback([a] { end_with(put(*a)); });
  CLI::App* out = command->add_subcommand("list", "List them");
  out->add_flag("--json", a->json, "One JSON object");
  add_base_option(out, a->base);
  out->callback([a] { end_with(list(*a)); });
  CLI::App* one = command->add_subcommand("show", "Print a file as it is on record");
  one->add_option("NAME", a->name, "Its name, or the first 8 characters or more of its SHA-256")
      ->required();
  one->add_flag("--json", a->json, "One JSON object");
  add_base_option(one, a->base);
  one->footer("Example:\n  fairlead register show load.textproto");
  one->callback([a] { end_with(show(*a)); });
  CLI::App* past = command->add_subcommand(
      "history", "Every version of a file: leaf, time, SHA-256, who, and which trucks use it");
  past->add_option("NAME", a->name, "Its name")->required();
  past->add_flag("--json", a->json, "One JSON object");
  add_base_option(past, a->base);
  past->footer("Example:\n  fairlead register history vehicles.textproto");
  past->callback([a] { end_with(history(*a)); });
  add_register_text(command);
  CLI::App* known =
      command->add_subcommand("trucks", "List enrolled trucks and what is held of each");
  known->add_flag("--json", a->json, "One JSON object");
  add_base_option(known, a->base);
  known->callback([a] { end_with(trucks(*a)); });
}

}  // namespace fairlead::cli
