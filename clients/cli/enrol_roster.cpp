// enrol root, officer, base, roster, install: who may sign for a base. The root key never has to
// touch the base's machine: only a request goes out and a signed roster comes back.
#include <fmt/format.h>

#include <algorithm>
#include <iostream>

#include "clients/cli/ending.h"
#include "clients/cli/enrol_files.h"
#include "daemon/record/checkpoint.h"
#include "daemon/record/roster.h"
#include "fairlead/v1/register_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

constexpr size_t kLongest = 64 * 1024;

struct Arguments {
  std::string base, house, name, data, out, from, root, file, next;
  std::vector<std::string> officers, dropped;
  bool dry_run = false;
};

int root(const Arguments& a) {
  const auto key = key_file(std::filesystem::path(a.out) / "root.key",
                            "the root key: keep it offline, and a copy elsewhere", a.dry_run);
  if (!key) return complain(key.error());
  const auto named = named_key(a.name + "/root", *key);
  if (!named) return complain(named.error());
  std::cout << "root " << record::format_verifier_key(*named) << "\n";
  return 0;
}

int officer(const Arguments& a) {
  const SecretKey key = SecretKey::generate();
  const auto named = named_key(a.house + "/officer-" + a.name, key);
  if (!named) return complain(named.error());
  const std::string line = record::format_verifier_key(*named) + "\n";
  const std::filesystem::path file = std::filesystem::path(a.out) / (a.name + ".key");
  if (auto ok = make_file(file, key.to_text().view(), "the officer's secret key", a.dry_run); !ok)
    return complain(ok.error());
  const auto open = std::filesystem::path(a.out) / (a.name + ".pub");
  if (auto ok = put_file(open, line, "for the roster", a.dry_run); !ok) return complain(ok.error());
  std::cout << "officer " << line;
  return 0;
}

Result<record::Roster> roster_in(const std::string& path) {
  const auto bytes = whole_file(path, kLongest);
  if (!bytes) return std::unexpected(bytes.error());
  auto roster = record::read_roster_request(*bytes);
  if (!roster) return fail_at(path + ": ", roster.error());
  return roster;
}

/// A first request from the keys in the folder, made where they are missing.
Result<record::Roster> first_request(const Arguments& a) {
  const auto keys = std::filesystem::path(a.data) / "keys";
  const auto origin = record::origin_of(a.name, 1);
  if (!origin) return fail_at("--name: ", origin.error());
  record::Roster roster;
  roster.base_name = a.name;
  for (const auto& [file, name] :
       {std::pair{"log.key", *origin}, std::pair{"admin.key", a.name + "/admin"},
        std::pair{"service.key", a.name + "/service"}}) {
    const auto key = key_file(keys / file, "", a.dry_run);
    if (!key) return std::unexpected(key.error());
    auto named = named_key(name, *key);
    if (!named) return std::unexpected(named.error());
    if (file == std::string_view("log.key"))
      roster.log = std::move(*named);
    else if (file == std::string_view("admin.key"))
      roster.admins = {{random_array<16>(), std::move(*named)}};
    else
      roster.services = {{random_array<16>(), std::move(*named)}};
  }
  return roster;
}

/// The roster in force with a new admin or service key in the place of the old.
Result<record::Roster> next_request(const Arguments& a) {
  const auto data = std::filesystem::path(a.data);
  auto roster = roster_in((data / "roster.note").string());
  if (!roster) return roster;
  const auto key = key_file(data / "keys" / (a.next + ".key.next"), "", a.dry_run);
  if (!key) return std::unexpected(key.error());
  auto& group = a.next == "admin" ? roster->admins : roster->services;
  auto named = named_key(fmt::format("{}/{}", roster->base_name, a.next), *key);
  if (!named) return std::unexpected(named.error());
  group = {{random_array<16>(), std::move(*named)}};
  roster->root = {};
  return roster;
}

int base(const Arguments& a) {
  std::error_code error;
  const bool first = !std::filesystem::exists(std::filesystem::path(a.data) / "roster.note", error);
  if (first && !a.next.empty()) {
    return complain({Code::kBadInput, "--next: there is no roster.note in " + a.data +
                                          " yet; leave --next out for a first request"});
  }
  if (!first && a.next.empty()) {
    return complain({Code::kConflict, a.data + ": has its roster.note already; --next admin or "
                                               "--next service makes a new key to follow"});
  }
  const auto roster = first ? first_request(a) : next_request(a);
  if (!roster) return complain(roster.error());
  const auto file = std::filesystem::path(a.data) / "roster.request";
  if (auto ok = put_file(file, record::format_roster_request(*roster),
                         "take it to the root key: fairlead enrol roster", a.dry_run);
      !ok) {
    return complain(ok.error());
  }
  return 0;
}

Status change_officers(const Arguments& a, record::Roster& roster) {
  for (const std::string& name : a.dropped) {
    const size_t before = roster.officers.size();
    std::erase_if(roster.officers, [&](const record::VerifierKey& key) {
      return key.name == name || key.name == roster.base_name + "/officer-" + name;
    });
    if (roster.officers.size() == before) {
      return fail(Code::kNotFound, "--drop: the roster names no officer '" + name + "'");
    }
  }
  for (const std::string& path : a.officers) {
    const auto text = whole_file(path, kLongest);
    if (!text) return std::unexpected(text.error());
    auto key = record::parse_verifier_key(text->substr(0, text->find('\n')));
    if (!key) return fail_at(path + ": ", key.error());
    if (std::ranges::find(roster.officers, *key) == roster.officers.end())
      roster.officers.push_back(std::move(*key));
  }
  return {};
}

int roster(const Arguments& a) {
  auto roster = roster_in(a.from);
  if (!roster) return complain(roster.error());
  const auto key = read_key(a.root);
  if (!key) return complain(key.error());
  const auto named = named_key(roster->base_name + "/root", *key);
  if (!named) return complain(named.error());
  if (!is_zero(roster->root.key.bytes) && roster->root != *named) {
    return complain({Code::kConflict, a.root + ": is not the root key that signed " + a.from});
  }
  roster->root = *named;
  if (auto ok = change_officers(a, *roster); !ok) return complain(ok.error());
  const auto note = record::sign_roster(*roster, *key);
  if (!note) return complain(note.error());
  if (auto ok = put_file(a.out, *note, "the signed roster", a.dry_run); !ok)
    return complain(ok.error());
  std::cout << *note << "fingerprint " << hex_of(record::roster_fingerprint(*note)) << "\n";
  return 0;
}

int install(const Arguments& a) {
  const auto note = whole_file(a.file, kLongest);
  if (!note) return complain(note.error());
  v1::PutRosterRequest request;
  request.set_note(*note);
  request.set_dry_run(a.dry_run);
  const auto stub = v1::RegisterService::NewStub(channel_to(a.base));
  v1::PutRosterResponse response;
  const auto done = call_base(a.base, std::chrono::seconds(30), [&](auto& context) {
    return stub->PutRoster(&context, request, &response);
  });
  if (!done) return complain(done.error());
  for (const std::string& line : response.change()) std::cout << line << "\n";
  std::cout << "fingerprint " << response.fingerprint() << "\n"
            << (a.dry_run ? "would be in force from the next entry on\n"
                          : fmt::format("in force from entry {}\n", response.leaf_index()));
  return 0;
}

void add_offline(CLI::App* enrol, const std::shared_ptr<Arguments>& a) {
  CLI::App* command = enrol->add_subcommand("root", "Make the root key, away from the base");
  command->add_option("--name", a->name, "Name of the base")->required();
  command->add_option("-o,--out", a->out, "Folder, best on a stick")->required();
  add_dry_run(command, a->dry_run);
  command->footer("Example:\n  fairlead enrol root --name ozzlewick -o /media/stick");
  command->callback([a] { end_with(root(*a)); });

  command = enrol->add_subcommand("officer", "Make the key of a person who may enrol trucks");
  command->add_option("--name", a->name, "Who holds it")->required();
  command->add_option("--base-name", a->house, "Name of the base")->required();
  command->add_option("-o,--out", a->out, "Folder")->required();
  add_dry_run(command, a->dry_run);
  command->footer(
      "Example:\n  fairlead enrol officer --name anna --base-name ozzlewick -o /media/anna");
  command->callback([a] { end_with(officer(*a)); });

  command = enrol->add_subcommand("roster", "Sign a roster with the root key, away from the base");
  command->add_option("--from", a->from, "roster.request of the base, or its roster.note")
      ->required();
  command->add_option("--root", a->root, "The root key's file")->required();
  command->add_option("--officer", a->officers, "An officer's .pub file to add; repeatable");
  command->add_option("--drop", a->dropped, "Name of an officer to leave out; repeatable");
  command->add_option("-o,--out", a->out, "File to write")->required();
  add_dry_run(command, a->dry_run);
  command->footer(
      "Example:\n  fairlead enrol roster --from roster.request --root root.key --officer anna.pub "
      "-o roster.note\nBefore a base's first start put it into its data folder; later: fairlead "
      "enrol install.");
  command->callback([a] { end_with(roster(*a)); });
}

}  // namespace

void add_enrol_roster(CLI::App* enrol) {
  auto a = std::make_shared<Arguments>();
  add_offline(enrol, a);
  CLI::App* command =
      enrol->add_subcommand("base", "Make a base's keys and the request for its roster");
  command->add_option("--name", a->name, "Name of the base")->required();
  command->add_option("--data", a->data, "Data folder of the base")->required();
  command->add_option("--next", a->next, "A new key to follow the one in use")
      ->check(CLI::IsMember({"admin", "service"}));
  add_dry_run(command, a->dry_run);
  command->footer("Example:\n  fairlead enrol base --name ozzlewick --data fairlead-data");
  command->callback([a] { end_with(base(*a)); });

  command = enrol->add_subcommand("install", "Bring a new signed roster into force at the base");
  command->add_option("ROSTER", a->file, "The signed roster")->required();
  add_dry_run(command, a->dry_run);
  add_base_option(command, a->base);
  command->footer("Example:\n  fairlead enrol install roster.note --dry-run");
  command->callback([a] { end_with(install(*a)); });
}

}  // namespace fairlead::cli
