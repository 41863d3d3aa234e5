#include "clients/cli/cmd_attach.h"

#include <fmt/format.h>

#include <filesystem>
#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "fairlead/v1/jobs_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr size_t kMostBytes = size_t{256} << 20;

struct Arguments {
  std::string base, job, file, view, when = "DURING", note, media_type;
  bool film = false, json = false;
};

/// By the file's first bytes (PNG, JPEG, PDF, MP4 signatures); empty when they are none of these.
std::string media_type_of(const std::string& bytes) {
  if (bytes.starts_with("\x89PNG\r\n\x1a\n")) return "image/png";
  if (bytes.starts_with("\xFF\xD8\xFF")) return "image/jpeg";
  if (bytes.starts_with("%PDF-")) return "application/pdf";
  if (bytes.size() > 8 && bytes.compare(4, 4, "ftyp") == 0) return "video/mp4";
  return {};
}

Result<v1::AttachFileRequest> request_of(const Arguments& a) {
  auto bytes = whole_file(a.file, kMostBytes);
  if (!bytes) return std::unexpected(bytes.error());
  v1::AttachFileRequest request;
  request.set_job(a.job);
  request.set_file_name(std::filesystem::path(a.file).filename().string());
  request.set_media_type(a.media_type.empty() ? media_type_of(*bytes) : a.media_type);
  request.set_content(std::move(*bytes));
  if (request.media_type().empty()) {
    return fail(Code::kBadInput,
                a.file + ": its kind cannot be told; give --media-type, such as image/jpeg");
  }
  v1::When::Word when = v1::When::UNSET;
  if (!v1::When::Word_Parse(a.when, &when) || when == v1::When::UNSET) {
    return fail(Code::kBadInput,
                "--when: '" + a.when + "' is unknown; use BEFORE, DURING or AFTER");
  }
  if (!a.note.empty()) {
    request.mutable_note()->set_text(a.note);
  } else if (a.film) {
    request.mutable_film()->set_when(when);
  } else {
    request.mutable_photo()->set_view(a.view.empty() ? "spot:" + request.file_name() : a.view);
    request.mutable_photo()->set_when(when);
  }
  return request;
}

int run(const Arguments& a) {
  const auto request = request_of(a);
  if (!request) return complain(request.error());
  v1::AttachFileResponse response;
  const auto stub = v1::JobsService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, std::chrono::seconds(120), [&](auto& context) {
    return stub->AttachFile(&context, *request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  std::cout << fmt::format("{}  {}\n", response.sha256(), request->file_name());
  std::cout << (response.leaf_index() == 0
                    ? std::string("a line of the job already names this file\n")
                    : fmt::format("on record as leaf {}\n", response.leaf_index()));
  return 0;
}

}  // namespace

void add_attach(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command = app.add_subcommand("attach", "Add a photo, film or paper to a job");
  command->add_option("JOB", a->job, "Job id, its first characters, or the owner's number")
      ->required();
  command->add_option("FILE", a->file, "The file")->required();
  command->add_option("--view", a->view, "What a photo shows: front, rear, spot:front lip, ...");
  command->add_option("--when", a->when, "BEFORE, DURING or AFTER the work")->capture_default_str();
  command->add_flag("--film", a->film, "It is a film round the car");
  command->add_option("--note", a->note, "It is a paper: what it is, in words");
  command->add_option("--media-type", a->media_type, "Where it cannot be told from the file");
  command->add_flag("--json", a->json, "One JSON object");
  add_base_option(command, a->base);
  command->footer(
      "A file that a line of the job already names by its SHA-256 is only stored.\n"
      "Example:\n  fairlead attach J-104 lip.jpg --view 'spot:front lip' --when BEFORE");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
