#include "clients/cli/cmd_report.h"

#include <fmt/format.h>

#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "clients/cli/other_files.h"
#include "clients/cli/waiting.h"
#include "fairlead/v1/claims_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

struct Arguments {
  std::string base, claim_id, paper = "A4", offset, out;
  std::vector<std::string> procedures, registers;
  bool draft = false, record_draft = false, json = false;
};

int run(const Arguments& a) {
  const auto offset = utc_offset(a.offset);
  if (!offset) return complain(offset.error());
  v1::WriteClaimReportRequest request;
  request.set_claim_id(a.claim_id);
  request.set_paper(a.paper);
  request.set_draft(a.draft);
  request.set_record_draft(a.record_draft);
  request.set_utc_offset_minutes(*offset);
  auto files = other_files(a.procedures, a.registers);
  if (!files) return complain(files.error());
  request.mutable_under()->Assign(files->begin(), files->end());
  v1::WriteClaimReportResponse response;
  const auto stub = v1::ClaimsService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, std::chrono::seconds(180), [&](auto& context) {
    const Waiting waiting("writing the report");
    return stub->WriteClaimReport(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (auto kept = keep_files(response.file(), a.out); !kept) return complain(kept.error());
  const std::string folder = a.out.empty() ? response.folder() : a.out;
  if (a.json) {
    for (auto& file : *response.mutable_file()) file.clear_content();
    print_json(response);
    return 0;
  }
  for (const auto& file : response.file()) {
    std::cout << fmt::format("{}/{}  {}\n", folder, file.name(), file.sha256());
  }
  std::cout << (a.draft && !a.record_draft
                    ? std::string("draft: nothing was recorded\n")
                    : fmt::format("{}on record as leaf {}\n", a.draft ? "draft, " : "",
                                  response.issued_leaf()));
  return 0;
}

}  // namespace

void add_report(CLI::App& app) {
  CLI::App* group = app.add_subcommand("report", "Reports for people outside");
  group->require_subcommand(1);
  auto a = std::make_shared<Arguments>();
  CLI::App* command = group->add_subcommand(
      "claim", "Write a claim report: HTML, PDF with the record inside, plain PDF, JSON, bundle");
  command->add_option("CLAIM", a->claim_id, "Such as C-0001")->required();
  command->add_option("--paper", a->paper, "A4 or LETTER")->capture_default_str();
  command->add_option("--utc-offset", a->offset, "Local time of the pages, such as +01:00");
  command->add_option("--out", a->out, "Also write the files into this folder");
  command->add_option("--procedure", a->procedures,
                      "Adds a part 'under other rules': this procedure file or shipped id in place "
                      "of the job's own; repeatable");
  command->add_option("--register", a->registers,
                      "The same for a register file in place of the pinned one of its name");
  command->add_flag("--draft", a->draft,
                    "Every page says draft; nothing is recorded (ask counsel first)");
  command->add_flag("--record-draft", a->record_draft,
                    "With --draft: that it was made is recorded, and the pages say so");
  command->add_flag("--json", a->json, "One JSON object: files and their SHA-256");
  add_base_option(command, a->base);
  command->footer("Example:\n  fairlead report claim C-0001 --utc-offset +01:00 --out out/C-0001");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
