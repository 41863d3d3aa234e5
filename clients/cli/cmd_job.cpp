#include "clients/cli/cmd_job.h"

#include <fstream>
#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "clients/cli/job_text.h"
#include "clients/cli/other_files.h"
#include "fairlead/v1/jobs_service.grpc.pb.h"
#include "fairlead/v1/ledger_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr std::chrono::seconds kTimeout{60};

struct Arguments {
  std::string base, job, out;
  bool json = false, lines = false;
  std::vector<std::string> procedures, registers;
  std::string truck, number, vehicle, register_truck, card, promised;
  double mass_kg = 0, mass_sd_kg = 0;
};

int open_job(const Arguments& a) {
  v1::OpenJobRequest request;
  request.set_truck(a.truck);
  request.set_number(a.number);
  v1::Opened& opened = *request.mutable_opened();
  opened.mutable_procedures()->Assign(a.procedures.begin(), a.procedures.end());
  opened.set_vehicle(a.vehicle);
  opened.set_truck(a.register_truck.empty() ? a.truck : a.register_truck);
  opened.set_operator_(a.card);
  if (a.mass_kg > 0) opened.set_mass_kg(a.mass_kg);
  if (a.mass_sd_kg > 0) opened.set_mass_sd_kg(a.mass_sd_kg);
  if (!a.promised.empty()) opened.set_promised(a.promised);
  const auto stub = v1::JobsService::NewStub(channel_to(a.base));
  v1::OpenJobResponse response;
  const auto done = call_base(
      a.base, kTimeout, [&](auto& context) { return stub->OpenJob(&context, request, &response); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
  } else {
    std::cout << response.job_id() << "\n";
  }
  return 0;
}

int show_job(const Arguments& a) {
  v1::GetJobRequest request;
  request.set_job(a.job);
  request.set_with_lines(a.lines);
  const auto stub = v1::JobsService::NewStub(channel_to(a.base));
  v1::GetJobResponse response;
  const auto done = call_base(
      a.base, kTimeout, [&](auto& context) { return stub->GetJob(&context, request, &response); });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  if (a.lines) {
    for (const std::string& line : response.line()) std::cout << line << "\n";
    return 0;
  }
  std::cout << job_line(response.job()) << "\n";
  for (const std::string& finding : response.finding())
    std::cout << "  " << finding_text(finding) << "\n";
  for (const auto& step : response.clock_step()) {
    std::cout << "  clock     at " << step.shown().substr(0, 19) << " UTC "
              << "(leaf " << step.leaf_index() << ") " << step.words() << "\n";
  }
  return 0;
}

int judge_job(const Arguments& a) {
  auto files = other_files(a.procedures, a.registers);
  if (!files) return complain(files.error());
  v1::JudgeJobRequest request;
  request.set_job(a.job);
  request.mutable_file()->Assign(files->begin(), files->end());
  const auto stub = v1::JobsService::NewStub(channel_to(a.base));
  v1::JudgeJobResponse response;
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->JudgeJob(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  std::cout << response.heading() << "\n";
  for (const auto& file : response.file())
    std::cout << "  " << file.sha256().substr(0, 16) << "  " << file.name() << "\n";
  for (const std::string& finding : response.finding())
    std::cout << "  " << finding_text(finding) << "\n";
  if (!response.other_rules()) return 0;
  std::cout << (response.difference().empty() ? "Every rule comes out as under the job's own rules."
                                              : "Otherwise than under the job's own rules:")
            << "\n";
  for (const auto& one : response.difference())
    std::cout << "  " << one.rule() << ": " << one.pinned() << " -> " << one.other() << "\n";
  return 0;
}

int export_bundle(const Arguments& a) {
  v1::ExportBundleRequest request;
  request.set_job(a.job);
  const auto stub = v1::LedgerService::NewStub(channel_to(a.base));
  const std::string path = a.out.empty() ? a.job + ".flb" : a.out;
  std::ofstream out(path, std::ios::binary);
  if (!out) return complain({Code::kIo, path + ": cannot be written; check the folder"});
  size_t bytes = 0;
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    const auto reader = stub->ExportBundle(&context, request);
    v1::ExportBundleResponse piece;
    while (reader->Read(&piece)) {
      out << piece.piece();
      bytes += piece.piece().size();
    }
    return reader->Finish();
  });
  out.close();
  if (!done || !out) {
    std::remove(path.c_str());
    return complain(done ? Error{Code::kIo, path + ": cannot be written; check the disk"}
                         : done.error());
  }
  std::cout << path << "  " << bytes << " bytes\n";
  return 0;
}

}  // namespace

void add_job(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* job =
      app.add_subcommand("job", "Open a job at the desk, show one, take its bundle out");
  job->require_subcommand(1);

  CLI::App* open = job->add_subcommand("open", "Order a job to a truck");
  open->add_option("--truck", a->truck, "Enrolled name of the truck")->required();
  open->add_option("--vehicle", a->vehicle, "Register id, or small, large, unknown")->required();
  open->add_option("--procedure", a->procedures, "Id of a procedure; repeatable")->required();
  open->add_option("--operator", a->card, "Card id of the operator")->required();
  open->add_option("--register-truck", a->register_truck,
                   "Register id of the truck where it is not its name");
  open->add_option("--number", a->number, "The owner's own number");
  open->add_option("--mass-kg", a->mass_kg,
                   "Mass of the vehicle, where known better than the register");
  open->add_option("--mass-sd-kg", a->mass_sd_kg, "Its standard deviation");
  open->add_option("--promised", a->promised, "Promised arrival (RFC 3339)");
  open->add_flag("--json", a->json, "One JSON object");
  add_base_option(open, a->base);
  open->footer(
      "Example:\n  fairlead job open --truck OW-04 --vehicle hauberk --procedure load --procedure "
      "carry "
      "--operator card-3f --number J-102");
  open->callback([a] { end_with(open_job(*a)); });

  CLI::App* show = job->add_subcommand("show", "A job with its findings");
  show->add_option("JOB", a->job, "Job id, its first characters, or the owner's number")
      ->required();
  show->add_flag("--lines", a->lines, "Its observation lines (.jsonl) instead");
  show->add_flag("--json", a->json, "One JSON object");
  add_base_option(show, a->base);
  show->footer(
      "Examples:\n  fairlead job show J-102\n  fairlead job show J-102 --lines > J-102.jsonl");
  show->callback([a] { end_with(show_job(*a)); });

  CLI::App* judge = job->add_subcommand(
      "judge", "Judge a job under other files than it pins; nothing is recorded");
  judge->add_option("JOB", a->job, "Job id, its first characters, or the owner's number")
      ->required();
  judge->add_option("--procedure", a->procedures,
                    "Procedure file or shipped id in place of the job's own; repeatable");
  judge->add_option("--register", a->registers,
                    "Register file in place of the pinned one of its name; repeatable");
  judge->add_flag("--json", a->json, "One JSON object: heading, findings, differences");
  add_base_option(judge, a->base);
  judge->footer("Example:\n  fairlead job judge J-102 --procedure load-2.textproto");
  judge->callback([a] { end_with(judge_job(*a)); });

  CLI::App* bundle =
      job->add_subcommand("bundle", "Write the job's bundle, to be checked by fairlead-verify");
  bundle->add_option("JOB", a->job, "Job id, its first characters, or the owner's number")
      ->required();
  bundle->add_option("-o,--out", a->out, "File to write (JOB.flb)");
  add_base_option(bundle, a->base);
  bundle->footer("Example:\n  fairlead job bundle J-102 -o J-102.flb");
  bundle->callback([a] { end_with(export_bundle(*a)); });
}

}  // namespace fairlead::cli
