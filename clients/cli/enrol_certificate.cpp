// enrol request, certificate, revoke-certificate: what opens a connection from another machine, and
// what ends that. The base's authority is two files in its data folder, made when first needed;
// nothing here talks to a daemon, but a base that runs sees at once what is revoked.
#include <fmt/format.h>

#include <ctime>
#include <iostream>

#include "clients/cli/ending.h"
#include "clients/cli/enrol_files.h"
#include "daemon/base/profile.h"
#include "daemon/base/revoked.h"
#include "daemon/base/time_text.h"
#include "daemon/record/enrolment.h"
#include "daemon/record/roster.h"

namespace fairlead::cli {
namespace {

constexpr size_t kLongest = 64 * 1024;
constexpr int64_t kDay = 86'400;

struct Arguments {
  std::string data, role, id, truck, request, out, why, address = "BASE-ADDRESS:7400";
  std::vector<std::string> hosts;
  int64_t days = 397;
  bool dry_run = false;
};

struct Authority {
  std::string certificate;
  SecretText key{""};
};

Result<std::string> base_name(const std::filesystem::path& data) {
  const auto note = whole_file((data / "roster.note").string(), kLongest);
  if (!note) return fail_at("--data: the base's folder: ", note.error());
  const auto roster = record::open_roster(*note);
  if (!roster) return fail_at((data / "roster.note").string() + ": ", roster.error());
  if (!is_identity_name(roster->base_name)) {
    return fail(Code::kBadInput, "the base's name '" + roster->base_name +
                                     "' cannot stand in certificates; it may have letters, digits, "
                                     "'-', '.', '_'");
  }
  return roster->base_name;
}

Result<Authority> authority_of(const std::filesystem::path& data, const std::string& base,
                               bool dry_run) {
  const auto key_file = data / "keys" / "ca.key", file = data / "ca.crt";
  std::error_code error;
  if (std::filesystem::exists(key_file, error)) {
    auto key = read_secret_file(key_file);
    if (!key) return std::unexpected(key.error());
    auto certificate = whole_file(file.string(), kLongest);
    if (!certificate) return std::unexpected(certificate.error());
    return Authority{std::move(*certificate), std::move(*key)};
  }
  auto key = make_tls_key();
  if (!key) return std::unexpected(key.error());
  auto certificate = make_authority(key->view(), base, std::time(nullptr));
  if (!certificate) return std::unexpected(certificate.error());
  if (auto ok = put_file(file, *certificate, "the base's authority", dry_run); !ok)
    return std::unexpected(ok.error());
  if (auto ok = make_file(key_file, key->view(), "its secret key", dry_run); !ok)
    return std::unexpected(ok.error());
  return Authority{std::move(*certificate), std::move(*key)};
}

Result<Identity> identity_of(const Arguments& a, const std::string& base) {
  if (!a.truck.empty()) {
    const auto text = whole_file(a.truck, kLongest);
    if (!text) return std::unexpected(text.error());
    const auto line = record::parse_device_line(*text);
    if (!line) return fail_at(a.truck + ": ", line.error());
    return Identity{PeerRole::kTruck, base, hex_of(line->device_id)};
  }
  const auto role = role_of_word(a.role);
  if (!role || *role == PeerRole::kTruck) {
    return fail(Code::kBadInput,
                "--role: write base, owner, operator, insurer or service; a truck "
                "is named by --truck and its device.pub");
  }
  const Identity identity{*role, base, *role == PeerRole::kBase ? base : a.id};
  if (!is_identity_name(identity.id)) {
    return fail(Code::kBadInput,
                "--id: give 1 to 64 letters, digits, '-', '.', '_'; of an operator "
                "the card its jobs name");
  }
  return identity;
}

/// Makes key and request in `folder`; gives the request.
Result<std::string> make_pair(const std::filesystem::path& folder, const std::string& name,
                              bool dry_run) {
  const auto key = make_tls_key();
  if (!key) return std::unexpected(key.error());
  auto request = make_request(key->view(), name);
  if (!request) return request;
  if (auto ok = make_file(folder / "tls.key", key->view(), "its secret key", dry_run); !ok)
    return std::unexpected(ok.error());
  return request;
}

int request(const Arguments& a) {
  const auto made = make_pair(a.out, "request", a.dry_run);
  if (!made) return complain(made.error());
  const auto file = std::filesystem::path(a.out) / "tls.request";
  if (auto ok = put_file(file, *made, "for fairlead enrol certificate at the base", a.dry_run); !ok)
    return complain(ok.error());
  return 0;
}

Status certificate(const Arguments& a) {
  const std::filesystem::path data = a.data, out = a.out;
  const auto base = base_name(data);
  if (!base) return std::unexpected(base.error());
  const auto identity = identity_of(a, *base);
  if (!identity) return std::unexpected(identity.error());
  const auto authority = authority_of(data, *base, a.dry_run);
  if (!authority) return std::unexpected(authority.error());
  const auto asked = a.request.empty() ? make_pair(out, format_identity(*identity), a.dry_run)
                                       : whole_file(a.request, kLongest);
  if (!asked) return std::unexpected(asked.error());
  const int64_t now = std::time(nullptr);
  const Grant grant{*identity, a.hosts, now, now + a.days * kDay};
  const auto issued =
      issue_certificate(authority->certificate, authority->key.view(), *asked, grant);
  if (!issued) return std::unexpected(issued.error());
  const auto until = format_time_us(grant.until_s * 1'000'000).substr(0, 10);
  if (auto ok = put_file(out / "tls.crt", *issued,
                         fmt::format("{} until {}", format_identity(*identity), until), a.dry_run);
      !ok) {
    return ok;
  }
  if (auto ok = put_file(out / "ca.crt", authority->certificate, "the base's authority", a.dry_run);
      !ok) {
    return ok;
  }
  if (identity->role == PeerRole::kBase || identity->role == PeerRole::kTruck) return {};
  return put_file(out / "profile.toml", format_profile(a.address), "for fairlead --profile",
                  a.dry_run);
}

int revoke(const Arguments& a) {
  const auto base = base_name(a.data);
  if (!base) return complain(base.error());
  const auto identity = identity_of(a, *base);
  if (!identity) return complain(identity.error());
  if (identity->role == PeerRole::kBase) {
    return complain({Code::kBadInput,
                     "--role: a base is not revoked at the base; give its callers another address "
                     "and authority"});
  }
  const int64_t now = std::time(nullptr);
  const std::string words = fmt::format("{} {}'s certificates issued until now", a.role, a.id);
  if (a.dry_run) {
    std::cout << "would revoke " << words << "\n";
    return 0;
  }
  if (auto ok = RevokedCertificates::add(a.data, *identity, now, a.why); !ok)
    return complain(ok.error());
  std::cout << words << ": revoked, from the next call on; one issued later is good again\n";
  return 0;
}

}  // namespace

void add_enrol_certificate(CLI::App* enrol) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command =
      enrol->add_subcommand("request", "Make a key for connections and ask for its certificate");
  command
      ->add_option("-o,--out", a->out, "Folder: tls.key stays there, tls.request goes to the base")
      ->required();
  add_dry_run(command, a->dry_run);
  command->footer("Example:\n  fairlead enrol request -o truck");
  command->callback([a] { end_with(request(*a)); });

  command = enrol->add_subcommand("certificate", "At the base: issue a certificate");
  command->add_option("--data", a->data, "Data folder of the base")->required();
  command->add_option("--role", a->role, "base, owner, operator, insurer or service");
  command->add_option("--id", a->id, "Who it is; of an operator the card its jobs name");
  command->add_option("--truck", a->truck, "A truck's device.pub, instead of --role and --id");
  command->add_option("--request", a->request,
                      "Its tls.request; without one the key is made here too, in the folder of -o");
  command->add_option("--host", a->hosts, "Of a base: a name or address browsers use; repeatable");
  command->add_option("--address", a->address, "Where the base listens, for the profile");
  command->add_option("--days", a->days, "How long it holds")
      ->check(CLI::Range(1, 3'650))
      ->capture_default_str();
  command->add_option("-o,--out", a->out, "Folder to write into")->required();
  add_dry_run(command, a->dry_run);
  command->footer(
      "Examples:\n  fairlead enrol certificate --data fairlead-data --role base -o "
      "fairlead-data/tls\n  fairlead enrol certificate --data fairlead-data --truck device.pub "
      "--request tls.request -o for-truck\n  fairlead enrol certificate --data fairlead-data "
      "--role "
      "insurer --id harrow --address lot.example:7400 -o for-harrow");
  command->callback([a] {
    const Status done = certificate(*a);
    end_with(done ? 0 : complain(done.error()));
  });

  command = enrol->add_subcommand("revoke-certificate",
                                  "At the base: a person's certificates count no longer");
  command->add_option("--data", a->data, "Data folder of the base")->required();
  command->add_option("--role", a->role, "owner, operator, insurer or service")->required();
  command->add_option("--id", a->id, "Who it is")->required();
  command->add_option("--why", a->why, "For whoever reads the list later");
  add_dry_run(command, a->dry_run);
  command->footer(
      "A truck is revoked by its signing key: fairlead enrol revoke.\nExample:\n  fairlead enrol "
      "revoke-certificate --data fairlead-data --role owner --id anna --why \"laptop stolen\"");
  command->callback([a] { end_with(revoke(*a)); });
}

}  // namespace fairlead::cli
