#include "clients/cli/base_call.h"

#include <fmt/format.h>
#include <google/protobuf/util/json_util.h>

#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>

#include "daemon/base/profile.h"
#include "daemon/uplink/dial_rpc.h"

namespace fairlead::cli {
namespace {

/// What --profile brought: one a process.
struct Client {
  std::string base;
  std::shared_ptr<const TlsFiles> tls;
};
Client& client() {
  static Client the_client;
  return the_client;
}

// Empty when all is well, as CLI11 wants it.
std::string take_profile(const std::string& file) {
  const auto profile = load_profile(file);
  if (!profile) return profile.error().message;
  client().base = profile->base;
  if (profile->tls.empty()) return {};
  const auto tls = load_tls_files(profile->tls);
  if (!tls) return tls.error().message;
  client().tls = *tls;
  return {};
}

}  // namespace

void add_base_option(CLI::App* command, std::string& address) {
  address = kDefaultBase;
  command->add_option("--base", address, "Address of the base")
      ->envname("FAIRLEAD_BASE")
      ->capture_default_str();
  command->add_option("--profile", "Certificate and address for a base elsewhere")
      ->envname("FAIRLEAD_PROFILE")
      ->check(CLI::Validator(take_profile, "FILE"));
}

std::shared_ptr<grpc::Channel> channel_to(const std::string& address) {
  grpc::ChannelArguments arguments;
  arguments.SetMaxReceiveMessageSize(-1);
  arguments.SetMaxSendMessageSize(-1);
  return uplink::channel_to(dialled(address), client().tls.get(), arguments);
}

std::string dialled(const std::string& address) {
  return address != kDefaultBase || client().base.empty() ? address : client().base;
}

std::string unreached_hint() {
  return client().tls
             ? "; is it running, and does it take this certificate? It says nothing to those "
               "it does not know; its own log does"
             : "; is it running? --base or FAIRLEAD_BASE names another address";
}

int complain(const Error& error) {
  std::cerr << "fairlead: " << error.message << "\n";
  return error.code == Code::kBadInput || error.code == Code::kNotFound ? 3 : 4;
}

void print_json(const google::protobuf::Message& message) {
  google::protobuf::util::JsonPrintOptions options;
  options.always_print_primitive_fields = true;
  std::string text;
  (void)google::protobuf::util::MessageToJsonString(message, &text, options);
  std::cout << text << "\n";
}

Status keep_files(const google::protobuf::RepeatedPtrField<v1::ReportFile>& files,
                  const std::string& folder) {
  if (folder.empty()) return {};
  std::error_code error;
  std::filesystem::create_directories(folder, error);
  if (error) return fail(Code::kBadInput, folder + ": " + error.message() + "; give another --out");
  for (const auto& file : files) {
    const auto path = std::filesystem::path(folder) / std::filesystem::path(file.name()).filename();
    std::ofstream out(path, std::ios::binary);
    out << file.content();
    out.close();
    if (!out) return fail(Code::kIo, path.string() + ": cannot be written; check the folder");
  }
  return {};
}

Result<int> utc_offset(const std::string& text) {
  if (text.empty() || text == "Z" || text == "UTC") return 0;
  int hours = 0;
  int minutes = 0;
  char sign = 0;
  char rest = 0;
  if (std::sscanf(text.c_str(), "%c%2d:%2d%c", &sign, &hours, &minutes, &rest) != 3 ||
      (sign != '+' && sign != '-') || hours > 14 || minutes > 59 || hours < 0 || minutes < 0) {
    return fail(Code::kBadInput, "--utc-offset: '" + text + "' is not understood; write +01:00");
  }
  return (sign == '-' ? -1 : 1) * (hours * 60 + minutes);
}

Result<std::string> whole_file(const std::string& path, size_t most) {
  std::ifstream in(path, std::ios::binary);
  if (!in) return fail(Code::kNotFound, path + ": cannot be read; check the path");
  std::ostringstream bytes;
  bytes << in.rdbuf();
  std::string content = std::move(bytes).str();
  if (content.size() > most) {
    return fail(Code::kBadInput,
                fmt::format("{}: has {} bytes, at most {} fit", path, content.size(), most));
  }
  return content;
}

}  // namespace fairlead::cli
