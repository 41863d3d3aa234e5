#include "clients/cli/register_text.h"

#include <fmt/format.h>

#include <chrono>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <memory>
#include <nlohmann/json.hpp>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "clients/cli/text_files.h"
#include "daemon/base/time_text.h"
#include "daemon/plan/due.h"
#include "fairlead/v1/register_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

namespace fs = std::filesystem;
constexpr std::chrono::seconds kTimeout{30};
constexpr int kMostDays = 3660;

struct Arguments {
  std::vector<std::string> files;
  std::string base, date, truck, folder;
  int days = 30;
  bool json = false, all = false;
};

Result<std::vector<plan::DueItem>> due_of(const Arguments& a) {
  const auto files = register_files(a.files);
  if (!files) return std::unexpected(files.error());
  const auto book = judge::RegisterBook::compile(*files);
  if (!book) return std::unexpected(book.error());
  if (a.date.empty()) {
    const auto now = std::chrono::system_clock::now().time_since_epoch();
    return plan::register_due(
        *book, std::chrono::duration_cast<std::chrono::microseconds>(now).count(), a.days);
  }
  const auto day = parse_date_us(a.date);
  if (!day) return fail_at("--date: ", day.error());
  return plan::register_due(*book, *day, a.days);
}

int due(const Arguments& a) {
  const auto items = due_of(a);
  if (!items) return complain(items.error());
  int code = 0;
  size_t shown = 0;
  for (const plan::DueItem& item : *items) {
    if (!a.truck.empty() && item.truck != a.truck) continue;
    if (item.due == plan::Due::kNotCounted) code = 2;
    if (item.due != plan::Due::kInOrder && code == 0) code = 1;
    if (!a.all && item.due == plan::Due::kInOrder) continue;
    ++shown;
    if (a.json) {
      const nlohmann::ordered_json row{{"what", item.what},
                                       {"id", item.id},
                                       {"truck", item.truck},
                                       {"due", plan::word_of(item.due)},
                                       {"words", item.words}};
      std::cout << row.dump() << "\n";
    } else {
      std::cout << fmt::format("{:<12} {:<6} {:<20} {}\n", plan::word_of(item.due), item.what,
                               item.id, item.words);
    }
  }
  if (shown == 0 && !a.json) std::cout << "everything is in order\n";
  return code;
}

// Every file in force, under its own name; what is there already under that name must be the same.
int write_out(const Arguments& a) {
  const auto stub = v1::RegisterService::NewStub(channel_to(a.base));
  v1::ListFilesResponse listed;
  const auto done = call_base(
      a.base, kTimeout, [&](auto& context) { return stub->ListFiles(&context, {}, &listed); });
  if (!done) return complain(done.error());
  std::error_code failed;
  fs::create_directories(a.folder, failed);
  for (const auto& file : listed.file()) {
    v1::GetFileRequest request;
    request.set_sha256(file.sha256());
    v1::GetFileResponse response;
    const auto got = call_base(a.base, kTimeout, [&](auto& context) {
      return stub->GetFile(&context, request, &response);
    });
    if (!got) return complain(got.error());
    // The base took the name without folders; never trust that it did.
    const fs::path path = fs::path(a.folder) / fs::path(file.name()).filename();
    if (const auto old = read_file(path); old && *old != response.content()) {
      return complain({Code::kConflict, path.string() + ": is there with other content; choose an "
                                                        "empty folder"});
    }
    std::ofstream out(path, std::ios::binary);
    out << response.content();
    if (!out.flush())
      return complain({Code::kIo, path.string() + ": cannot be written; check the folder"});
    std::cout << path.string() << "\n";
  }
  return 0;
}

}  // namespace

void add_register_text(CLI::App* command) {
  auto a = std::make_shared<Arguments>();
  CLI::App* soon = command->add_subcommand(
      "due", "Check register files offline: gear and sensors that do not count, or soon will not");
  soon->add_option("FILE", a->files, "Register files (.textproto), or folders of them")->required();
  soon->add_option("--date", a->date, "The day; else today");
  soon->add_option("--days", a->days, "How far to look ahead")
      ->check(CLI::Range(0, kMostDays))
      ->capture_default_str();
  soon->add_option("--truck", a->truck, "Only this truck's");
  soon->add_flag("--all", a->all, "Also what is in order");
  soon->add_flag("--json", a->json, "One JSON object an item");
  soon->footer(
      "Exit: 0 all in order, 1 some due soon or unproven, 2 some not counted, 3 bad input.\n"
      "Example:\n  fairlead register due clients/sim/fleet --date 2027-02-01 --truck OW-11");
  soon->callback([a] { end_with(due(*a)); });
  CLI::App* out =
      command->add_subcommand("export", "Write every file in force into a folder, as on record");
  out->add_option("FOLDER", a->folder, "Made if it is not there")->required();
  add_base_option(out, a->base);
  out->footer("Example:\n  fairlead register export backup && fairlead register put backup");
  out->callback([a] { end_with(write_out(*a)); });
}

}  // namespace fairlead::cli
