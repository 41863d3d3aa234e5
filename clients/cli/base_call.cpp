#include "clients/cli/base_call.h"

#include <fmt/format.h>
#include <google/protobuf/util/json_util.h>

#include <filesystem>
#include <fstream>
#include <iostream>
#include <sstream>

namespace fairlead::cli {

void add_base_option(CLI::App* command, std::string& address) {
  address = kDefaultBase;
  command->add_option("--base", address, "Address of the base")
      ->envname("FAIRLEAD_BASE")
      ->capture_default_str();
}

std::shared_ptr<grpc::Channel> channel_to(const std::string& address) {
  grpc::ChannelArguments arguments;
  arguments.SetMaxReceiveMessageSize(-1);
  arguments.SetMaxSendMessageSize(-1);
  return grpc::CreateCustomChannel(address, grpc::InsecureChannelCredentials(), arguments);
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
