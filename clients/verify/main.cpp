// fairlead-verify: checks a bundle offline, under the insurer's own policy file.
#include <google/protobuf/stubs/logging.h>

#include <fstream>
#include <iostream>
#include <iterator>

#include "clients/verify/countersign_command.h"
#include "clients/verify/mapped_file.h"
#include "clients/verify/pdf_bundle.h"
#include "clients/verify/policy.h"
#include "clients/verify/steps.h"

namespace fairlead::verifier {
namespace {

constexpr const char* kHelp =
    R"(fairlead-verify checks a bundle or report of the record without network or database.

  fairlead-verify check FILE --policy POLICY [--pages FILE]... [--json]
      FILE is a bundle, or a PDF report that carries its bundle. Prints the verdict in one
      sentence, then what the record says and what was checked. --pages holds a report file
      without attachment (plain PDF, HTML, JSON) against what the record says was issued.

  fairlead-verify pin --roster FILE... --log VKEY [--countersigner VKEY]... [--threshold N] -o POLICY
      Writes the policy file: whose log it is and whose word counts. Compare each printed
      fingerprint with the one in the contract. --roster once for each roster, oldest first; where
      the first names officers, every truck must have been enrolled by one.

  fairlead-verify countersign-key FOLDER --name NAME
      Makes a countersigner's folder with its secret key, and prints the key to give to bases.
      Keep the folder in your backup: it also remembers every head you have countersigned.

  fairlead-verify countersign REQUEST --folder FOLDER --policy POLICY [--policy POLICY]... -o ANSWER
      Countersigns a head if it continues the last one countersigned for that log, and writes the
      line to send back; else writes the refusal to send back. Exit 0 or 2.

Exit of check: 0 proven and countersigned; 1 proven with notes (not yet countersigned, erasures, open job);
      2 disproven; 3 malformed; 4 key or policy unknown; 64 wrong use.

Examples:
  fairlead-verify pin --roster roster.note --log 'lot.example/fairlead/g1+1a2b3c4d+AT...' -o lot.policy
  fairlead-verify check claim-report.pdf --policy lot.policy
  fairlead-verify check bundle.flb --policy lot.policy --pages claim-report-plain.pdf
  fairlead-verify countersign-key countersigner --name insurer.example/heads
  fairlead-verify countersign head.request --folder countersigner --policy lot.policy -o head.answer
)";

int finish(const Verdicts& verdicts, bool json) {
  std::cout << (json ? to_json(verdicts) : to_text(verdicts)) << std::flush;
  return static_cast<int>(verdicts.exit());
}

/// The pages to compare, by hash; false after saying which cannot be read.
bool read_pages(const std::vector<std::string>& paths, std::vector<PagesFile>& out) {
  for (const std::string& path : paths) {
    const auto file = MappedFile::open(path);
    if (!file) {
      (void)usage(file.error().message);
      return false;
    }
    out.push_back({path, sha256(file->bytes())});
  }
  return true;
}

int check(const std::vector<std::string>& words) {
  const auto options = parse_options(words, {"--policy", "--pages"});
  std::vector<PagesFile> pages;
  if (!options || options->plain.size() != 1 || !options->one("--policy")) {
    return usage("check takes one FILE and --policy POLICY");
  }
  if (!read_pages(options->all("--pages"), pages)) return kExitUse;
  Verdicts verdicts;
  const auto policy_file = MappedFile::open(*options->one("--policy"));
  auto policy = policy_file ? parse_policy(policy_file->bytes())
                            : Result<Policy>(std::unexpected(policy_file.error()));
  if (!policy) {
    verdicts.add(0, Mark::kUnknown, policy.error().message);
    return finish(verdicts, options->json);
  }
  const auto file = MappedFile::open(options->plain[0]);
  if (!file) {
    verdicts.add(0, Mark::kMalformed, file.error().message);
    return finish(verdicts, options->json);
  }
  if (!is_pdf(file->bytes())) {
    return finish(check_bundle(file->bytes(), *policy, std::move(pages)), options->json);
  }
  const auto attached = bundle_of_pdf(file->bytes());
  if (!attached) {
    verdicts.add(0, Mark::kMalformed, attached.error().message);
    return finish(verdicts, options->json);
  }
  return finish(check_bundle(*attached, *policy, std::move(pages)), options->json);
}

Result<Policy> pin_files(const std::vector<std::string>& paths, const std::string& log,
                         const std::vector<std::string>& countersigners, size_t threshold) {
  std::vector<MappedFile> files;
  for (const std::string& path : paths) {
    auto file = MappedFile::open(path);
    if (!file) return std::unexpected(file.error());
    files.push_back(std::move(*file));
  }
  std::vector<std::string_view> notes;
  for (const MappedFile& file : files) notes.push_back(file.bytes());
  return pin(notes, log, countersigners, threshold);
}

int pin_command(const std::vector<std::string>& words) {
  const auto options =
      parse_options(words, {"--roster", "--log", "--countersigner", "--threshold", "-o"});
  if (!options || !options->plain.empty() || !options->one("--roster") || !options->one("--log") ||
      !options->one("-o")) {
    return usage("pin takes --roster FILE --log VKEY -o POLICY");
  }
  const std::string threshold_text = options->one("--threshold").value_or("1");
  if (threshold_text.empty() || threshold_text.size() > 2 ||
      threshold_text.find_first_not_of("0123456789") != std::string::npos) {
    return usage("--threshold takes a number from 1 to 15");
  }
  auto policy = pin_files(options->all("--roster"), *options->one("--log"),
                          options->all("--countersigner"), std::stoul(threshold_text));
  if (!policy) {
    std::cerr << "fairlead-verify: " << policy.error().message << "\n";
    return static_cast<int>(Exit::kUnknown);
  }
  const std::string path = *options->one("-o");
  std::ofstream out(path, std::ios::binary | std::ios::trunc);
  out << format_policy(*policy);
  out.close();
  if (!out) {
    std::cerr << "fairlead-verify: " << path << ": cannot be written\n";
    return kExitUse;
  }
  std::cout << "origin " << policy->origin() << "\n";
  for (const Hash& roster : policy->rosters) std::cout << "roster " << hex_of(roster) << "\n";
  if (policy->officers_required) std::cout << "officers required\n";
  std::cout << "Compare the roster's fingerprint with the one in the contract. Wrote " << path
            << "\n";
  return 0;
}

int run(const std::vector<std::string>& words) {
  if (words.empty()) {
    std::cerr << kHelp;
    return kExitUse;
  }
  if (words[0] == "--help" || words[0] == "-h" || words[0] == "help") {
    std::cout << kHelp;
    return 0;
  }
  const std::vector<std::string> rest(words.begin() + 1, words.end());
  if (words[0] == "check") return check(rest);
  if (words[0] == "pin") return pin_command(rest);
  if (words[0] == "countersign-key") return countersign_key_command(rest);
  if (words[0] == "countersign") return countersign_command(rest);
  return usage("unknown command " + words[0]);
}

}  // namespace
}  // namespace fairlead::verifier

int main(int argc, char** argv) {
  // A body that is not protobuf is a finding, said once by the step that met it.
  google::protobuf::SetLogHandler(nullptr);
  return fairlead::verifier::run({argv + 1, argv + argc});
}
