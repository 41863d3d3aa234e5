#include "clients/cli/cmd_report.h"

#include "clients/cli/ending.h"
#include "clients/cli/other_files.h"
#include "clients/cli/pages.h"
#include "clients/cli/waiting.h"
#include "fairlead/v1/claims_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

struct Arguments {
  PageOptions pages;
  std::string claim_id;
  std::vector<std::string> procedures, registers;
  bool draft = false, record_draft = false;
};

int run(const Arguments& a) {
  v1::WriteClaimReportRequest request;
  if (auto ok = ask_pages(a.pages, request); !ok) return complain(ok.error());
  request.set_claim_id(a.claim_id);
  request.set_draft(a.draft);
  request.set_record_draft(a.record_draft);
  auto files = other_files(a.procedures, a.registers);
  if (!files) return complain(files.error());
  request.mutable_under()->Assign(files->begin(), files->end());
  v1::WriteClaimReportResponse response;
  const auto stub = v1::ClaimsService::NewStub(channel_to(a.pages.base));
  const auto done = call_base(a.pages.base, std::chrono::seconds(180), [&](auto& context) {
    const Waiting waiting("writing the report");
    return stub->WriteClaimReport(&context, request, &response);
  });
  if (!done) return complain(done.error());
  return end_pages(a.pages, response,
                   a.draft && !a.record_draft
                       ? "draft: nothing was recorded"
                       : fmt::format("{}on record as leaf {}", a.draft ? "draft, " : "",
                                     response.issued_leaf()));
}

}  // namespace

void add_report(CLI::App& app) {
  CLI::App* group = app.add_subcommand("report", "Reports for people outside");
  group->require_subcommand(1);
  auto a = std::make_shared<Arguments>();
  CLI::App* command = group->add_subcommand(
      "claim", "Write a claim report: HTML, PDF with the record inside, plain PDF, JSON, bundle");
  command->add_option("CLAIM", a->claim_id, "Such as C-0001")->required();
  command->add_option("--procedure", a->procedures,
                      "Adds a part 'under other rules': this procedure file or shipped id in place "
                      "of the job's own; repeatable");
  command->add_option("--register", a->registers,
                      "The same for a register file in place of the pinned one of its name");
  command->add_flag("--draft", a->draft,
                    "Every page says draft; nothing is recorded (ask counsel first)");
  command->add_flag("--record-draft", a->record_draft,
                    "With --draft: that it was made is recorded, and the pages say so");
  add_page_options(command, a->pages);
  command->footer("Example:\n  fairlead report claim C-0001 --zone Europe/Dublin --out out/C-0001");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
