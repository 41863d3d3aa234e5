#include "clients/cli/cmd_erase.h"

#include <iostream>

#include "clients/cli/base_call.h"
#include "clients/cli/ending.h"
#include "clients/cli/erasure_text.h"
#include "fairlead/v1/retention_service.grpc.pb.h"

namespace fairlead::cli {
namespace {

struct Arguments {
  std::string base, words;
  std::vector<uint64_t> leaves;
  std::vector<std::string> cards, attachments;
  bool json = false, dry_run = false;
};

int run(const Arguments& a) {
  v1::EraseOnRequestRequest request;
  request.mutable_leaf()->Assign(a.leaves.begin(), a.leaves.end());
  request.mutable_card()->Assign(a.cards.begin(), a.cards.end());
  request.mutable_attachment()->Assign(a.attachments.begin(), a.attachments.end());
  request.set_words(a.words);
  request.set_dry_run(a.dry_run);
  v1::EraseOnRequestResponse response;
  const auto stub = v1::RetentionService::NewStub(channel_to(a.base));
  const auto done = call_base(a.base, std::chrono::hours(1), [&](auto& context) {
    return stub->EraseOnRequest(&context, request, &response);
  });
  if (!done) return complain(done.error());
  if (a.json) {
    print_json(response);
  } else {
    print_erasure(response.erasure(), a.dry_run);
  }
  // What is held was asked for and is still there.
  return response.erasure().held().empty() ? 0 : 2;
}

}  // namespace

void add_erase(CLI::App& app) {
  auto a = std::make_shared<Arguments>();
  CLI::App* command =
      app.add_subcommand("erase", "Erase what a person asks to have erased; the proofs stay");
  command->add_option("--leaf", a->leaves, "Leaf index of an entry; may be given several times");
  command->add_option("--card", a->cards, "Card of a person, vehicle or place, by its id in hex");
  command->add_option("--attachment", a->attachments,
                      "SHA-256 of a photo, film or signature; the entries that name it go too");
  command->add_option("--words", a->words, "Why, without names: these words stay in the record")
      ->required();
  command->add_flag("--dry-run", a->dry_run, "Only show what would go and what is held");
  command->add_flag("--json", a->json, "One JSON object");
  add_base_option(command, a->base);
  command->footer(
      "Exit: 0 all of it erased, 2 something is held or must stay.\n"
      "Example:\n  fairlead erase --card 5f0c9d0e6f1b4ab7a1c2d3e4f5061728 --words 'letter of 3 "
      "May'");
  command->callback([a] { end_with(run(*a)); });
}

}  // namespace fairlead::cli
