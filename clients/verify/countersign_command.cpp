#include "clients/verify/countersign_command.h"

#include <chrono>
#include <fstream>
#include <iostream>

#include "clients/verify/countersign_folder.h"
#include "clients/verify/mapped_file.h"
#include "clients/verify/policy.h"

namespace fairlead::verifier {
namespace {

constexpr int kRefused = 2;
constexpr int kUnknown = 4;

int complain(const Error& error) {
  std::cerr << "fairlead-verify: " << error.message << "\n";
  return kUnknown;
}

Result<std::vector<record::VerifierKey>> logs_of(const std::vector<std::string>& policies) {
  std::vector<record::VerifierKey> logs;
  for (const std::string& path : policies) {
    const auto file = MappedFile::open(path);
    if (!file) return std::unexpected(file.error());
    auto policy = parse_policy(file->bytes());
    if (!policy) return fail_at(path + ": ", policy.error());
    logs.push_back(std::move(policy->log));
  }
  return logs;
}

uint64_t unix_now() {
  const auto now = std::chrono::system_clock::now().time_since_epoch();
  return static_cast<uint64_t>(std::chrono::duration_cast<std::chrono::seconds>(now).count());
}

bool write_file(const std::string& path, const std::string& bytes) {
  std::ofstream out(path, std::ios::binary | std::ios::trunc);
  out << bytes;
  out.close();
  if (!out) std::cerr << "fairlead-verify: " << path << ": cannot be written\n";
  return static_cast<bool>(out);
}

}  // namespace

int countersign_key_command(const std::vector<std::string>& words) {
  const auto options = parse_options(words, {"--name"});
  if (!options || options->plain.size() != 1 || !options->one("--name")) {
    return usage("countersign-key takes a FOLDER and --name NAME");
  }
  const auto folder = CountersignFolder::make(options->plain[0], *options->one("--name"));
  if (!folder) return complain(folder.error());
  std::cout << record::format_verifier_key(folder->key()) << "\n";
  return 0;
}

int countersign_command(const std::vector<std::string>& words) {
  const auto options = parse_options(words, {"--folder", "--policy", "-o"});
  if (!options || options->plain.size() != 1 || !options->one("--folder") ||
      !options->one("--policy") || !options->one("-o")) {
    return usage("countersign takes a REQUEST, --folder FOLDER, --policy POLICY and -o ANSWER");
  }
  const auto logs = logs_of(options->all("--policy"));
  if (!logs) return complain(logs.error());
  const auto folder = CountersignFolder::open(*options->one("--folder"));
  if (!folder) return complain(folder.error());
  const auto request = MappedFile::open(options->plain[0]);
  if (!request) return complain(request.error());
  const auto answer = countersign(*folder, request->bytes(), *logs, unix_now());
  if (!answer) return complain(answer.error());
  const std::string path = *options->one("-o");
  if (const auto* refused = std::get_if<Refused>(&*answer)) {
    if (!write_file(path, refusal_text(*refused))) return kExitUse;
    std::cout << "NOT countersigned (" << refused->status << "): " << refused->words
              << "\nWrote the answer to " << path << "; send it back.\n";
    return kRefused;
  }
  if (!write_file(path, std::get<std::string>(*answer))) return kExitUse;
  std::cout << "Countersigned as " << folder->key().name << ". Wrote the answer to " << path
            << "; send it back.\n";
  return 0;
}

}  // namespace fairlead::verifier
