#include "clients/cli/cmd_claim.h"

#include <fmt/format.h>

#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/claim_text.h"
#include "clients/cli/ending.h"
#include "fairlead/v1/claims_service.grpc.pb.h"
#include "reports/claim/allegation_table.h"

namespace fairlead::cli {
namespace {

constexpr std::chrono::seconds kTimeout{30};

struct Arguments {
  std::string base, job, words, words_file, claimant, received, sum, claim_id, clock = "none";
  std::vector<std::string> allegations, documents;
  bool json = false;
};

// KIND=WORDS, with @PLACE at its end where the place on the car is named.
Result<v1::Allegation> allegation_of(const std::string& text) {
  v1::Allegation out;
  const size_t equal = text.find('=');
  if (equal == std::string::npos || equal == 0) {
    return fail(Code::kBadInput,
                "--allegation '" + text +
                    "': write KIND=WORDS or KIND=WORDS@PLACE; fairlead claim kinds lists them");
  }
  out.set_kind(text.substr(0, equal));
  std::string words = text.substr(equal + 1);
  if (const size_t at = words.rfind('@'); at != std::string::npos) {
    out.set_spot(words.substr(at + 1));
    words.resize(at);
  }
  out.set_words(words);
  return out;
}

int open(const Arguments& a) {
  v1::OpenClaimRequest request;
  v1::Claim& claim = *request.mutable_claim();
  claim.set_job_id(a.job);
  claim.set_words(a.words);
  if (!a.words_file.empty()) {
    auto words = whole_file(a.words_file, 1 << 16);
    if (!words) return complain(words.error());
    while (!words->empty() && (words->back() == '\n' || words->back() == '\r')) words->pop_back();
    claim.set_words(*words);
  }
  claim.set_claimant(a.claimant);
  claim.set_received(a.received);
  claim.set_sum(a.sum);
  claim.set_clock(a.clock);
  for (const auto& document : a.documents) claim.add_document(document);
  for (const auto& text : a.allegations) {
    const auto allegation = allegation_of(text);
    if (!allegation) return complain(allegation.error());
    *claim.add_allegation() = *allegation;
  }
  v1::OpenClaimResponse response;
  const auto stub = v1::ClaimsService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->OpenClaim(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response.claim());
  } else {
    std::cout << claim_text(response.claim());
    std::cout << "  next: fairlead report claim " << response.claim().claim_id() << "\n";
  }
  return 0;
}

int show(const Arguments& a) {
  v1::GetClaimRequest request;
  request.set_claim_id(a.claim_id);
  v1::GetClaimResponse response;
  const auto stub = v1::ClaimsService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->GetClaim(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) print_json(response.claim());
  if (!a.json) std::cout << claim_text(response.claim());
  return 0;
}

int list(const Arguments& a) {
  v1::ListClaimsRequest request;
  request.set_job(a.job);
  v1::ListClaimsResponse response;
  const auto stub = v1::ClaimsService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->ListClaims(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  for (const auto& claim : response.claim()) std::cout << claim_line(claim);
  if (response.claim().empty()) std::cout << "no claim on record\n";
  return 0;
}

int kinds() {
  const auto table = reports::shipped_allegation_table();
  if (!table) return complain(table.error());
  for (const auto& kind : table->rows.kind()) {
    std::cout << fmt::format("{:16} {}\n", kind.id(), kind.title());
  }
  return 0;
}

template <typename Run>
void on_run(CLI::App* command, std::shared_ptr<Arguments> arguments, const Run& run) {
  add_base_option(command, arguments->base);
  command->add_flag("--json", arguments->json, "One JSON object");
  command->callback([arguments, run] { end_with(run(*arguments)); });
}

void add_open(CLI::App& group) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command =
      group.add_subcommand("open", "Put a claim on record and its evidence on hold");
  command->add_option("--job", a->job, "Job id, its first characters, or the owner's number")
      ->required();
  auto* words = command->add_option("--words", a->words, "The claim in the claimant's own words");
  auto* file = command->add_option("--words-file", a->words_file, "The same, from a text file");
  words->excludes(file);
  command
      ->add_option("--allegation", a->allegations,
                   "KIND=WORDS, or KIND=WORDS@PLACE; may be given several times; without it the "
                   "claim's words choose a kind")
      ->take_all();
  command->add_option("--claimant", a->claimant, "Who claims; kept in a card of its own");
  command->add_option("--received", a->received, "Date or RFC 3339; without it, now");
  command->add_option("--sum", a->sum, "As claimed, with its currency");
  command
      ->add_option("--clock", a->clock,
                   "Due dates: none, or 49cfr370 (30 days, 120 days, then every 60); whether they "
                   "apply is for counsel")
      ->capture_default_str();
  command
      ->add_option("--document", a->documents, "A document handed in; may be given several times")
      ->take_all();
  command->footer(
      "Example:\n  fairlead claim open --job J-104 --received 2027-03-30 --sum '4,280.00 EUR' \\\n"
      "    --words 'He dragged my car and now the gearbox whines' \\\n"
      "    --allegation 'drive_unit=the gearbox whines' --allegation 'marks=scratch on the "
      "lip@front lip'");
  on_run(command, a, open);
}

}  // namespace

void add_claim(CLI::App& app) {
  CLI::App* group = app.add_subcommand("claim", "Claims against jobs");
  group->require_subcommand(1);
  add_open(*group);
  auto shown = std::make_shared<Arguments>();
  CLI::App* show_command = group->add_subcommand("show", "Show one claim");
  show_command->add_option("CLAIM", shown->claim_id, "Such as C-0001")->required();
  show_command->footer("Example:\n  fairlead claim show C-0001 --json");
  on_run(show_command, shown, show);
  auto listed = std::make_shared<Arguments>();
  CLI::App* list_command = group->add_subcommand("list", "List claims");
  list_command->add_option("--job", listed->job, "Only of this job");
  list_command->footer("Example:\n  fairlead claim list --job J-104");
  on_run(list_command, listed, list);
  CLI::App* kinds_command = group->add_subcommand("kinds", "List the kinds of allegation");
  kinds_command->footer("Example:\n  fairlead claim kinds");
  kinds_command->callback([] { end_with(kinds()); });
  add_claim_steps(*group);
}

}  // namespace fairlead::cli
