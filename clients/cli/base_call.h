// Talking to a base from the command line: one channel, deadlines, errors in words.
//
// Threads: one.
#pragma once

#include <google/protobuf/message.h>
#include <grpcpp/grpcpp.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <memory>
#include <string>

#include "daemon/base/result.h"
#include "fairlead/v1/claims_service.pb.h"

namespace fairlead::cli {

inline constexpr const char* kDefaultBase = "127.0.0.1:7400";

/// --base and --profile, also read from FAIRLEAD_BASE and FAIRLEAD_PROFILE. With a profile the base
/// is the one it names, unless --base says otherwise.
void add_base_option(CLI::App* command, std::string& address);

/// No limit on what the base answers: a report's files can be large.
[[nodiscard]] std::shared_ptr<grpc::Channel> channel_to(const std::string& address);

/// The address a call really goes to, the profile's where --base is silent.
[[nodiscard]] std::string dialled(const std::string& address);
/// What to look at when nobody answers.
[[nodiscard]] std::string unreached_hint();

/// One call with a deadline: call(context) -> grpc::Status. Errors: the base's own words.
template <typename Call>
[[nodiscard]] Status call_base(const std::string& address, std::chrono::seconds timeout,
                               const Call& call) {
  grpc::ClientContext context;
  context.set_deadline(std::chrono::system_clock::now() + timeout);
  const grpc::Status status = call(context);
  if (status.ok()) return {};
  if (status.error_code() == grpc::StatusCode::UNAVAILABLE) {
    return fail(Code::kUnavailable,
                "base at " + dialled(address) + ": " + status.error_message() + unreached_hint());
  }
  const bool input = status.error_code() == grpc::StatusCode::INVALID_ARGUMENT ||
                     status.error_code() == grpc::StatusCode::NOT_FOUND;
  return fail(input ? Code::kBadInput : Code::kInternal, status.error_message());
}

/// Prints the words on stderr and gives the exit code: 3 for bad input, 4 for anything else.
[[nodiscard]] int complain(const Error& error);

/// One JSON object on stdout, field names as in the .proto's JSON form.
void print_json(const google::protobuf::Message& message);

/// Writes each file into `folder` and prints its path; where `folder` is empty only names the
/// base's own folder.
[[nodiscard]] Status keep_files(const google::protobuf::RepeatedPtrField<v1::ReportFile>& files,
                                const std::string& folder);

/// "+01:00", "-02:30", "Z" as minutes east of UTC.
[[nodiscard]] Result<int> utc_offset(const std::string& text);

/// Errors: kNotFound, or kBadInput beyond `most` bytes.
[[nodiscard]] Result<std::string> whole_file(const std::string& path, size_t most);

}  // namespace fairlead::cli
