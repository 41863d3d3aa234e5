// fairlead claim find, note, tell, evidence, answer, clock, due, export.
#include <fmt/format.h>

#include <filesystem>
#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/claim_text.h"
#include "clients/cli/cmd_claim.h"
#include "clients/cli/ending.h"
#include "fairlead/v1/claims_service.grpc.pb.h"
#include "reports/text.h"

namespace fairlead::cli {
namespace {

constexpr std::chrono::seconds kTimeout{60};
constexpr size_t kMostBytes = size_t{64} << 20;

struct Arguments {
  std::string base, claim_id, words, file, media_type, outcome, amount, clock, plate, date, place,
      truck, out;
  bool status = false, json = false;
};

std::string upper(std::string text) {
  for (char& c : text) c = c >= 'a' && c <= 'z' ? static_cast<char>(c - 32) : c;
  return text;
}

int add_step(const Arguments& a, const v1::AddClaimStepRequest& request) {
  v1::AddClaimStepResponse response;
  const auto stub = v1::ClaimsService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->AddClaimStep(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) print_json(response.claim());
  if (!a.json) std::cout << claim_text(response.claim());
  return 0;
}

v1::AddClaimStepRequest step_of(const Arguments& a, const char* kind) {
  v1::AddClaimStepRequest request;
  request.set_claim_id(a.claim_id);
  request.mutable_step()->set_kind(kind);
  request.mutable_step()->set_words(a.words);
  return request;
}

int note(const Arguments& a) { return add_step(a, step_of(a, "NOTE")); }
int tell(const Arguments& a) {
  return add_step(a, step_of(a, a.status ? "STATUS" : "ACKNOWLEDGED"));
}

int evidence(const Arguments& a) {
  auto request = step_of(a, "EVIDENCE");
  auto bytes = whole_file(a.file, kMostBytes);
  if (!bytes) return complain(bytes.error());
  request.mutable_step()->set_file_name(std::filesystem::path(a.file).filename().string());
  request.mutable_step()->set_media_type(a.media_type);
  request.set_content(std::move(*bytes));
  return add_step(a, request);
}

int give_answer(const Arguments& a) {
  auto request = step_of(a, "ANSWER");
  request.mutable_step()->set_outcome(upper(a.outcome));
  request.mutable_step()->set_amount(a.amount);
  return add_step(a, request);
}

int set_clock(const Arguments& a) {
  auto request = step_of(a, "CLOCK");
  request.mutable_step()->set_clock(a.clock);
  return add_step(a, request);
}

int find(const Arguments& a) {
  v1::FindClaimJobsRequest request;
  request.set_plate(a.plate);
  request.set_date(a.date);
  request.set_place(a.place);
  request.set_truck(a.truck);
  v1::FindClaimJobsResponse response;
  const auto stub = v1::ClaimsService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->FindClaimJobs(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  for (const auto& found : response.found()) {
    const auto& job = found.job();
    std::cout << fmt::format("{}  {}  {}  {}\n    {}\n", job.job_id(),
                             job.opened_at().substr(0, 16), reports::shown(job.truck()),
                             reports::shown(job.number()), reports::shown(found.why()));
  }
  if (response.found().empty()) std::cout << "no job fits; ask for less\n";
  if (response.more()) std::cout << "more jobs fit; ask for more\n";
  return 0;
}

int due(const Arguments& a) {
  v1::ListClaimsResponse response;
  const auto stub = v1::ClaimsService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->ListClaims(&context, v1::ListClaimsRequest(), &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  std::string all;
  for (const auto& claim : response.claim()) all += due_lines(claim);
  std::cout << (all.empty() ? "nothing is due\n" : all);
  return 0;
}

int export_file(const Arguments& a) {
  v1::ExportClaimRequest request;
  request.set_claim_id(a.claim_id);
  v1::ExportClaimResponse response;
  const auto stub = v1::ClaimsService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, std::chrono::seconds(180), [&](auto& context) {
    return stub->ExportClaim(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (auto kept = keep_files(response.file(), a.out); !kept) return complain(kept.error());
  if (a.json) {
    for (auto& file : *response.mutable_file()) file.clear_content();
    print_json(response);
    return 0;
  }
  for (const auto& file : response.file())
    std::cout << fmt::format("{}/{}  {}\n", a.out, file.name(), file.sha256());
  std::cout << fmt::format("that it went out is on record as leaf {}\n", response.leaf_index());
  return 0;
}

template <typename Run>
CLI::App* command_of(CLI::App& group, const char* name, const char* about, const char* example,
                     const std::shared_ptr<Arguments>& a, const Run& run) {
  CLI::App* command = group.add_subcommand(name, about);
  add_base_option(command, a->base);
  command->add_flag("--json", a->json, "One JSON object");
  command->footer(std::string("Example:\n  ") + example);
  command->callback([a, run] { end_with(run(*a)); });
  return command;
}

void claim_option(CLI::App* command, const std::shared_ptr<Arguments>& a) {
  command->add_option("CLAIM", a->claim_id, "Such as C-0001")->required();
}

void add_words(CLI::App& group) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command =
      command_of(group, "note", "Add a note of your own; it stays in the house",
                 "fairlead claim note C-0001 --words 'asked for the workshop bill'", a, note);
  claim_option(command, a);
  command->add_option("--words", a->words, "The note")->required();
  auto b = std::make_shared<Arguments>();
  command = command_of(group, "tell",
                       "Record that the claimant was told the claim came in, or how it stands",
                       "fairlead claim tell C-0001 --status --words 'letter of 2 May'", b, tell);
  claim_option(command, b);
  command->add_flag("--status", b->status, "How it stands; without it, that it came in");
  command->add_option("--words", b->words, "What was sent, and how");
  auto c = std::make_shared<Arguments>();
  command = command_of(group, "evidence", "Keep a file that was handed in, unchanged",
                       "fairlead claim evidence C-0001 lip.jpg --words 'their photo of 3 March'", c,
                       evidence);
  claim_option(command, c);
  command->add_option("FILE", c->file, "The file, at most 64 MiB")->required();
  command->add_option("--words", c->words, "What it is and who gave it");
  command->add_option("--media-type", c->media_type, "Such as image/jpeg");
}

void add_decisions(CLI::App& group) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command =
      command_of(group, "answer", "Record the answer given; a later one stands beside it",
                 "fairlead claim answer C-0001 partly --amount '600.00 EUR' --words 'lip only'", a,
                 give_answer);
  claim_option(command, a);
  command->add_option("OUTCOME", a->outcome, "accepted, partly, declined or withdrawn")->required();
  command->add_option("--amount", a->amount, "What is paid, with its currency");
  command->add_option("--words", a->words, "Why");
  auto b = std::make_shared<Arguments>();
  command =
      command_of(group, "clock", "Choose which due dates count; whether they apply is for counsel",
                 "fairlead claim clock C-0001 49cfr370", b, set_clock);
  claim_option(command, b);
  command->add_option("CLOCK", b->clock, "none, or 49cfr370: 30 days, 120 days, then every 60")
      ->required();
  auto c = std::make_shared<Arguments>();
  command_of(group, "due", "List open due dates of all claims", "fairlead claim due", c, due);
}

void add_find_and_export(CLI::App& group) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command = command_of(group, "find", "Find the job that a claim is about",
                                 "fairlead claim find --plate 'OZ 412' --date 2027-02-17", a, find);
  command->add_option("--plate", a->plate, "Plate, VIN or card id");
  command->add_option("--date", a->date, "Day the claimant names; the days beside it count too");
  command->add_option("--place", a->place, "Words of a place, or LATITUDE,LONGITUDE");
  command->add_option("--truck", a->truck, "Such as OW-04");
  auto b = std::make_shared<Arguments>();
  command = command_of(group, "export", "Write the whole file of a claim into a folder",
                       "fairlead claim export C-0001 --out file-of-C-0001", b, export_file);
  claim_option(command, b);
  command->add_option("--out", b->out, "The folder")->required();
}

}  // namespace

void add_claim_steps(CLI::App& group) {
  add_find_and_export(group);
  add_words(group);
  add_decisions(group);
}

}  // namespace fairlead::cli
