// enrol truck, rotate, revoke: a truck's key becomes known, changes, stops counting.
#include <fmt/format.h>

#include <iostream>
#include <optional>

#include "clients/cli/ending.h"
#include "clients/cli/enrol_files.h"
#include "daemon/record/enrolment.h"
#include "fairlead/v1/register_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr size_t kLongestFile = 4'096;
constexpr std::chrono::seconds kTimeout{30};

struct Arguments {
  std::string base, name, line, code, officer, officer_name, data, words;
  std::optional<uint64_t> last;
  uint32_t epoch = 0;
  bool json = false, dry_run = false;
};

/// The officer's signature is made here; the key goes nowhere.
Status sign(const Arguments& a, const record::DeviceLine& line, v1::EnrolTruckRequest& request) {
  const auto key = read_key(a.officer);
  if (!key) return std::unexpected(key.error());
  const auto code = record::read_code(a.code);
  if (!code) return std::unexpected(code.error());
  if (record::bind_code(*code, line) != line.binding) {
    return fail(Code::kDenied,
                "--code: is not the one of this device line; nothing is signed. Read "
                "it in the cab again");
  }
  request.set_officer(a.officer_name);
  if (a.officer_name.empty()) {
    std::filesystem::path open = a.officer;
    const auto text = whole_file(open.replace_extension(".pub").string(), kLongestFile);
    if (!text) return fail_at("--officer: its .pub file says the officer's name: ", text.error());
    const auto named = record::parse_verifier_key(text->substr(0, text->find('\n')));
    if (!named) return fail_at(open.string() + ": ", named.error());
    request.set_officer(named->name);
  }
  const auto statement = record::enrol_statement(line.device_id, line.key, line.binding);
  request.set_officer_signature(string_of(key->sign(statement).bytes));
  return {};
}

int truck(const Arguments& a) {
  const auto text = whole_file(a.line, kLongestFile);
  if (!text) return complain(text.error());
  const auto line = record::parse_device_line(*text);
  if (!line) return complain({line.error().code, a.line + ": " + line.error().message});
  v1::EnrolTruckRequest request;
  request.set_name(a.name);
  request.set_device_line(*text);
  request.set_code(a.code);
  request.set_dry_run(a.dry_run);
  if (!a.officer.empty()) {
    if (auto ok = sign(a, *line, request); !ok) return complain(ok.error());
  }
  const auto stub = v1::RegisterService::NewStub(channel_to(a.base));
  v1::EnrolTruckResponse response;
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->EnrolTruck(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
  } else if (response.already_there()) {
    std::cout << response.device_id() << "  was enrolled before, leaf " << response.leaf_index()
              << "\n";
  } else if (a.dry_run) {
    std::cout << fmt::format("would enrol '{}', device {}, key {}{}\n", line->name,
                             response.device_id(), base64_of(view_of(line->key.bytes)),
                             request.officer().empty() ? "" : ", signed by " + request.officer());
  } else {
    std::cout << response.device_id() << "  enrolled, leaf " << response.leaf_index() << "\n";
  }
  return 0;
}

int rotate(const Arguments& a) {
  const auto folder = std::filesystem::path(a.data);
  const auto old_key = read_key(folder / "device.key");
  if (!old_key) return complain(old_key.error());
  const SecretKey next = SecretKey::generate();
  if (auto ok = make_file(folder / "device.key.next", next.to_text().view(), "the truck's next key",
                          a.dry_run);
      !ok) {
    return complain(ok.error());
  }
  std::cout << fmt::format("old key {}\n", base64_of(view_of(old_key->public_key().bytes)));
  if (!a.dry_run)
    std::cout << fmt::format("new key {}\n", base64_of(view_of(next.public_key().bytes)));
  std::cout
      << "At its next start, with the base in reach, the truck sends what the old key signed, "
         "then both keys sign the change.\n";
  return 0;
}

int revoke(const Arguments& a) {
  v1::RevokeTruckRequest request;
  request.set_name(a.name);
  if (a.last) request.set_last_seq(*a.last);
  request.set_last_epoch(a.epoch);
  request.set_words(a.words);
  request.set_dry_run(a.dry_run);
  const auto stub = v1::RegisterService::NewStub(channel_to(a.base));
  v1::RevokeTruckResponse response;
  const auto done = call_base(a.base, kTimeout, [&](auto& context) {
    return stub->RevokeTruck(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
    return 0;
  }
  std::cout << fmt::format(
      "'{}': {} after entry {} of epoch {} counts for nothing; {} entries here are quarantined by "
      "it{}\n",
      a.name, a.dry_run ? "would be revoked, what comes" : "revoked, what comes",
      response.last_seq(), response.last_epoch(), response.quarantined(),
      a.dry_run ? "" : fmt::format(", leaf {}", response.leaf_index()));
  return 0;
}

void add_truck(CLI::App* enrol, const std::shared_ptr<Arguments>& a) {
  CLI::App* command = enrol->add_subcommand("truck", "Enrol a truck by its device.pub and code");
  command->add_option("--name", a->name, "Name the truck goes by, as a check");
  command->add_option("--key", a->line, "device.pub of the truck's data folder")->required();
  command->add_option("--code", a->code, "One-time code read in the cab")->required();
  command->add_option("--officer", a->officer,
                      "An officer's key file, where the roster names officers");
  command->add_option(
      "--officer-name", a->officer_name,
      "The officer's name in the roster, where the .pub file is not beside the key");
  command->add_flag("--json", a->json, "One JSON object");
  add_dry_run(command, a->dry_run);
  add_base_option(command, a->base);
  command->footer(
      "Example:\n  fairlead enrol truck --key /media/stick/device.pub --code 7K3M-9QPD --officer "
      "/media/anna/anna.key\nThe code is shown by the truck at its start and by fairlead status on "
      "the truck; it holds a day, for one truck, for five tries.");
  command->callback([a] { end_with(truck(*a)); });
}

}  // namespace

void add_enrol_truck(CLI::App* enrol) {
  auto a = std::make_shared<Arguments>();
  add_truck(enrol, a);
  CLI::App* command = enrol->add_subcommand("rotate", "On a truck: make the key that follows");
  command->add_option("--data", a->data, "Data folder of the truck")->required();
  add_dry_run(command, a->dry_run);
  command->footer("Example:\n  fairlead enrol rotate --data truck");
  command->callback([a] { end_with(rotate(*a)); });

  command = enrol->add_subcommand("revoke", "A truck's key is lost or stolen: stop trusting it");
  command->add_option("--truck", a->name, "Name of the truck")->required();
  command->add_option("--last", a->last,
                      "Its last entry that is still trusted, 0 for none (the newest here)");
  command->add_option("--epoch", a->epoch, "Epoch of that entry (the newest)");
  command->add_option("--why", a->words, "In words, for the record")->required();
  command->add_flag("--json", a->json, "One JSON object");
  add_dry_run(command, a->dry_run);
  add_base_option(command, a->base);
  command->footer("Example:\n  fairlead enrol revoke --truck OW-04 --why \"box stolen\" --dry-run");
  command->callback([a] { end_with(revoke(*a)); });
}

}  // namespace fairlead::cli
